//! What was typed → entries of the log, and what to say of those that were taken or refused.

use std::collections::BTreeSet;

use crate::advise::Case;
use crate::cli::ask::Said;
use crate::job::{AnswerGiven, Entry, Found, JobProblem, RepairDone, Seen, Sure};
use crate::show::{Page, place_name};

/// A check and what was said of it.
pub(super) fn found(task: &str, said: &Said) -> Found {
    let (check, at) = task
        .split_once('@')
        .map_or((task, None), |(check, at)| (check, Some(at.to_owned())));
    let sure = match said.sure {
        Some("fairly") => Sure::Fairly,
        Some("guess") => Sure::Guess,
        _ => Sure::Sure,
    };
    let seen = match said.seen {
        Some("in part") => Seen::InPart,
        Some("not") => Seen::Not,
        _ => Seen::Whole,
    };
    Found {
        check: check.to_owned(),
        at,
        answer: AnswerGiven::One(said.answer.clone()),
        sure,
        seen,
        again: said.again,
        ..Found::default()
    }
}

/// Told where a job's file could not keep its comments.
pub(super) const COMMENTS_LOST: &str =
    "The file was written anew: as it was laid out, its comments could not be kept.";

/// `FAULT@PLACE` as an entry.
pub(super) fn certain(named: &str, confirmed: bool) -> Entry {
    let (cause, at) = named.split_once('@').map_or((named, None), |(cause, at)| {
        (cause, Some(at.trim().to_owned()))
    });
    let cause = cause.trim().to_owned();
    if confirmed {
        Entry::Confirmed { cause, at }
    } else {
        Entry::RuledOut { cause, at }
    }
}

/// `FAULT@PLACE, FAULT@PLACE: HOW` as a repair.
pub(super) fn repaired(typed: &str) -> Entry {
    let (faults, how) = typed.split_once(':').unwrap_or((typed, ""));
    Entry::Repaired(RepairDone {
        faults: faults
            .split(',')
            .map(|fault| fault.trim().to_owned())
            .filter(|fault| !fault.is_empty())
            .collect(),
        how: how.trim().to_owned(),
        ..RepairDone::default()
    })
}

/// A problem with what was typed, without the number of an entry that was never made.
pub(super) fn short(problem: &JobProblem) -> String {
    let mut letters = problem.message.chars();
    let first = letters.next().map(|first| first.to_uppercase().to_string());
    let message = format!("{}{}", first.unwrap_or_default(), letters.as_str());
    match &problem.help {
        Some(help) => format!("{message}; {help}."),
        None => format!("{message}."),
    }
}

/// Says which looks just noted went to places behind a cover that is on, or saw nothing for covers.
pub(super) fn covered_text(page: &mut Page, case: &Case<'_>, kept: usize) {
    for of in case.behind_covers.iter().filter(|of| of.entry > kept) {
        page.para(&match &of.covers[..] {
            [] => format!("{}.", of.words),
            covers => format!(
                "{}. If they were off, type `undo`, then `off {}`, then your line again.",
                of.words,
                covers.join(", ")
            ),
        });
    }
    let new = case.found.iter().filter(|found| found.entry > kept);
    let covered = new.filter_map(|found| {
        let task = &case.graph.tasks[found.task?];
        Some((task.part?, task.cover_on?))
    });
    let mut told = BTreeSet::new();
    for (part, cover) in covered.take(3) {
        if told.insert(cover) {
            let cover = &case.layout.covers[cover].named;
            page.para(&format!(
                "{} lies behind {}: taken as seen with it on. If it is off, type `undo`, then `off {}`, then your line again.",
                place_name(case, part),
                cover.name,
                cover.id
            ));
        }
    }
}
