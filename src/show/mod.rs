//! What is known of a case, as text for people and as JSON for scripts.
//!
//! In: a [`Case`](crate::advise::Case) and advice on it. Out: strings wrapped to a width, and
//! `serde_json` values. Nothing here prints.

mod account;
mod advice;
mod closing;
mod conflict;
mod hold;
mod hunch;
pub mod json;
mod json_hunch;
mod json_workshop;
mod page;
mod question;
mod release;
mod reliability;
mod repair_sheet;
mod standing;
mod stories;
mod what_if;
mod why;
mod words;

pub use account::account_text;
pub use advice::{next_page, proposal_text, verdict_text};
pub use closing::closing_text;
pub use conflict::conflict_text;
pub use hold::{hold_plot, hold_svg, hold_text};
pub use hunch::hunch_text;
pub use page::Page;
pub use question::{later_signs_text, options_text, shown_answers, sign_text, takes_a_needle};
pub use release::release_text;
pub use reliability::reliability_svg;
pub use repair_sheet::repair_sheet_text;
pub use standing::{changes_text, ranking_text};
pub use stories::stories_text;
pub use what_if::what_if_text;
pub use why::{source_words, why_text};
pub use words::{
    anywhere, cause_name, done_name, full_name, minutes_text, place_name, suspect_id, suspect_name,
    task_id, task_name, time_text,
};
