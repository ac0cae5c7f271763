//! What is known of a case, as text for people and as JSON for scripts.
//!
//! In: a [`Case`](crate::advise::Case) and advice on it. Out: strings wrapped to a width, and
//! `serde_json` values. Nothing here prints.

mod account;
mod advice;
mod closing;
mod hold;
pub mod json;
mod page;
mod question;
mod reliability;
mod standing;
mod why;
mod words;

pub use account::account_text;
pub use advice::{next_page, proposal_text, verdict_text};
pub use closing::closing_text;
pub use hold::{hold_plot, hold_svg, hold_text};
pub use page::Page;
pub use question::{later_signs_text, options_text, shown_answers, sign_text};
pub use reliability::reliability_svg;
pub use standing::{changes_text, ranking_text};
pub use why::{source_words, why_text};
pub use words::{cause_name, minutes_text, place_name, task_id, task_name};
