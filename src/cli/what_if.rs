//! `what-if`: how it would stand if a check had another answer.

use crate::advise::{Belief, Case, Ranking};
use crate::chance::Chance;
use crate::cli::Desk;
use crate::cli::args::{Args, WhatIfArgs};
use crate::cli::entries::short;
use crate::cli::failure::Failure;
use crate::cli::world::{World, case_and_words, job_problems, typed_finding};
use crate::job::{AnswerGiven, Entry, JobFile, JobProblem};
use crate::show::{json, what_if_text};

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &WhatIfArgs) -> Result<bool, Failure> {
    let world = World::load(args, desk.surroundings)?;
    let (named, words) = case_and_words(&of.words, &of.with);
    let job = World::job(desk.surroundings, &named)?;
    if words.is_empty() {
        return Err(Failure::usage(
            "what do you suppose? Add CHECK[@PLACE]=ANSWER, or ENTRY=ANSWER for an entry of the log",
        ));
    }
    let mut supposed = job.clone();
    for word in &words {
        suppose(&mut supposed, word)?;
    }
    let vehicle = world.vehicle(&job.layout)?;
    let waiting = world.waiting_counts(of.with.hurry.as_deref())?;
    let case = vehicle
        .case(&job, waiting)
        .map_err(|found| job_problems(&found, named.job.as_deref(), desk.surroundings))?;
    let changed = vehicle
        .case(&supposed, waiting)
        .map_err(|found| supposed_problems(&found, job.log.len(), &words))?;
    let (now, then) = (Belief::of(&case, &[])?, Belief::of(&changed, &[])?);
    let likely = if adds_only(&case, &changed) {
        let ratio = (then.log_evidence() - now.log_evidence()).exp();
        Chance::new(ratio.min(1.0)).ok()
    } else {
        None
    };
    let (before, after) = (Ranking::of(&case, &now)?, Ranking::of(&changed, &then)?);
    if args.json {
        let likely = likely.map(Chance::get);
        desk.json(&json::what_if((&case, &before), (&changed, &after), likely))?;
    } else {
        let mut page = desk.page();
        what_if_text(
            &mut page,
            (&case, &before),
            (&changed, &after),
            &words,
            likely,
        );
        desk.put(page.text())?;
    }
    Ok(true)
}

/// Problems with what is supposed: what was typed is called by its words, since it is no entry yet.
fn supposed_problems(found: &[JobProblem], entries: usize, words: &[String]) -> Failure {
    let new: Vec<&String> = (words.iter())
        .filter(|word| entry_of(word).is_none())
        .collect();
    let lines: Vec<String> = found
        .iter()
        .map(|problem| {
            let typed = problem
                .entry
                .and_then(|entry| entry.checked_sub(entries + 1));
            match typed.and_then(|at| new.get(at)) {
                Some(word) => format!("seepwise: `{word}`: {}", short(problem)),
                None => format!("seepwise: {problem}"),
            }
        })
        .collect();
    Failure::Told(lines.join("\n"))
}

/// The entry of the log that a word changes, with its new answer.
fn entry_of(word: &str) -> Option<(usize, &str)> {
    let (number, answer) = word.split_once('=')?;
    Some((number.trim().parse().ok()?, answer.trim()))
}

/// Writes a supposed answer into the log: over an entry's own, or as a new one.
fn suppose(job: &mut JobFile, word: &str) -> Result<(), Failure> {
    let Some((number, answer)) = entry_of(word) else {
        job.log.push(Entry::Found(typed_finding(word)?).into());
        return Ok(());
    };
    let count = job.log.len();
    let at = number.checked_sub(1).filter(|at| *at < count);
    let Some(at) = at else {
        return Err(Failure::usage(format!(
            "there is no entry {number}: the log has {count}"
        )));
    };
    let Entry::Found(found) = &mut job.log[at].entry else {
        return Err(Failure::usage(format!(
            "entry {number} is no typed answer to a check, so it has none to change"
        )));
    };
    found.answer = AnswerGiven::One(answer.to_owned());
    found.except.clear();
    found.not_seen.clear();
    found.in_part.clear();
    Ok(())
}

/// Whether the changed case only has findings more than the other.
fn adds_only(case: &Case<'_>, changed: &Case<'_>) -> bool {
    changed.found.len() > case.found.len() && changed.found.starts_with(&case.found)
}
