//! The log of a job as people read it: each entry, and what became of it.

use crate::advise::Case;
use crate::cli::story::step_words;
use crate::job::{AnswerGiven, Entry, Found, JobFile};
use crate::show::Page;

/// Every entry with its number; what was replaced or withdrawn says by which.
pub(super) fn log_text(page: &mut Page, case: &Case<'_>, job: &JobFile) {
    if job.log.is_empty() {
        page.para("Nothing has been noted yet.");
    }
    for (index, logged) in job.log.iter().enumerate() {
        let number = index + 1;
        let counts = case.found.iter().any(|found| found.entry == number);
        let withdrawn = later(job, number, |entry| *entry == Entry::Withdrawn(number));
        let words = match &logged.entry {
            Entry::Found(found) if !counts => {
                let again = |entry: &Entry| matches!(entry, Entry::Found(other) if other.check == found.check && other.at == found.at);
                let fate = withdrawn
                    .map(|by| format!(" (withdrawn by {by})"))
                    .or_else(|| later(job, number, again).map(|by| format!(" (replaced by {by})")))
                    .unwrap_or_default();
                format!("{}{fate}", typed(found))
            }
            _ => {
                let fate = withdrawn
                    .filter(|_| !counts)
                    .map(|by| format!(" (withdrawn by {by})"))
                    .unwrap_or_default();
                format!("{}{fate}", step_words(case, number, logged))
            }
        };
        page.item(&format!("{number:>2}."), &words);
    }
}

/// The number of the first later entry like this.
fn later(job: &JobFile, number: usize, like: impl Fn(&Entry) -> bool) -> Option<usize> {
    let mut after = job.log.iter().enumerate().skip(number);
    after
        .find(|(_, logged)| like(&logged.entry))
        .map(|(index, _)| index + 1)
}

/// A finding as it was typed.
fn typed(found: &Found) -> String {
    let at = found
        .at
        .as_ref()
        .map(|at| format!("@{at}"))
        .unwrap_or_default();
    let answer = match &found.answer {
        answer if answer.cant_tell() => "can't tell".to_owned(),
        answer if answer.cant_do() => "can't do".to_owned(),
        AnswerGiven::One(answer) => answer.clone(),
        AnswerGiven::Several(several) => {
            let each: Vec<String> = several
                .iter()
                .map(|(name, answer)| format!("{name}={answer}"))
                .collect();
            each.join(", ")
        }
    };
    format!("{}{at}: {answer}", found.check)
}
