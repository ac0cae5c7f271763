//! Jobs: one vehicle, its complaint and the log of what was found on it.
//!
//! In: the text of a job file ([`JobFile::read`]) or of a shop file ([`ShopFile::read`]). Out: a
//! [`Case`](crate::advise::Case) for the advice ([`resolve`]), or problems that say what is wrong,
//! where, and what to do; and the job as text again ([`JobFile::write`]), saved whole or not at
//! all ([`Store`]).
//!
//! ```
//! use seepwise::job::{Entry, JobFile};
//! use seepwise::source::{SourceFile, Sources};
//! let mut sources = Sources::new();
//! let text = "job: 1\nlayout: tender\nlog:\n  - {check: loss_reported, answer: slow}\n";
//! let file = sources.add(SourceFile::new("a.yaml", text));
//! let job = JobFile::read(file, &sources).unwrap();
//! assert!(matches!(&job.log[0].entry, Entry::Found(found) if found.check == "loss_reported"));
//! ```

mod answer;
mod expect;
mod file;
mod find;
mod keep;
mod log_file;
mod measured;
mod mended;
mod problem;
mod read;
mod read_measured;
mod read_mended;
mod resolve;
mod resolve_again;
mod resolve_found;
mod resolve_looks;
mod resolve_loss;
mod resolve_measured;
mod resolve_mended;
mod resolve_set_up;
mod shop;
mod stands_at;
mod store;
mod suspect;
mod walk;
mod write;
mod write_measured;
mod write_mended;

pub use answer::{Meant, parse_answer};
pub use file::{
    AnswerGiven, CANT_DO, CANT_TELL, Entry, Expect, Found, JobFile, Logged, Seen, Sure,
};
pub use find::{
    find_block, find_cause, find_check, find_condition, find_cover, find_facet_value, find_part,
    find_task,
};
pub use keep::{Kept, KeptJob};
pub use log_file::{LogFile, read_gauge_log};
pub use measured::{
    CoolantReading, GaugeLog, LossTold, PortMap, Readings, Shown, UsualFill, expansion,
};
pub use mended::{DrySpell, Filled, RepairDone};
pub use problem::JobProblem;
pub use resolve::{LogReader, resolve};
pub use resolve_set_up::uncovered;
pub use shop::{Role, ShopFile};
pub use stands_at::StandsAt;
pub use store::{Store, StoreError};
pub use suspect::{Unclear, find_suspect};
