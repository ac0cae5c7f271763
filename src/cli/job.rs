//! `job close`: closes a job, or says what is still open.

use crate::advise::{Case, Closing};
use crate::chance::Chance;
use crate::cli::Desk;
use crate::cli::args::{Args, CloseArgs, JobArgs, JobCommand};
use crate::cli::entries::COMMENTS_LOST;
use crate::cli::failure::Failure;
use crate::cli::replay::ending;
use crate::cli::world::{World, file_problems, read_job};
use crate::graph::Place;
use crate::ids::PartId;
use crate::job::{Entry, Expect, JobFile, Kept, KeptJob};
use crate::show::{closing_text, json};

/// Expectations of a closed job are this coarse, per cent, so that a small change of the rules
/// does not miss them.
const COARSE: f64 = 5.0;
/// What was repaired and is less likely than this to have been a source is not expected as one.
const LIKELY: f64 = 0.5;

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &JobArgs) -> Result<bool, Failure> {
    match &of.what {
        JobCommand::Close(of) => close(desk, args, of),
    }
}

fn close(desk: &mut Desk<'_>, args: &Args, of: &CloseArgs) -> Result<bool, Failure> {
    let world = World::load(args, desk.surroundings)?;
    let mut kept = KeptJob::of(&of.job)?;
    let mut job = read_job(&of.job, desk.surroundings)?;
    let vehicle = world.vehicle(&job.layout)?;
    let case = vehicle
        .case(&job, world.waiting_counts(None)?)
        .map_err(|found| file_problems(&found, &of.job, desk.surroundings))?;
    if let Some(entry) = case.closed {
        return Err(Failure::usage(format!(
            "this job was closed in entry {entry}; withdraw that entry to go on with it"
        )));
    }
    if job.log.is_empty() {
        return Err(Failure::usage(
            "this job is empty: nothing was found or repaired, so there is nothing to close",
        ));
    }
    let closing = Closing::of(&case)?;
    let open = of.open.as_deref().map(str::trim).unwrap_or_default();
    if let Some(expect) = &job.expect {
        let known = expect.check(case.rules, case.layout, &case.graph);
        known.map_err(|found| file_problems(&found, &of.job, desk.surroundings))?;
    }
    let own = job.expect.is_some();
    let expect = (job.expect.take()).unwrap_or_else(|| expectations(&case, &closing));
    let missed = ending(&case, Some(&expect))?.missed;
    // Expectations that came with the job are somebody's word: against them it is not closed
    // without another.
    let in_the_way = own && !missed.is_empty();
    let closes = (closing.open.is_empty() && !in_the_way) || !open.is_empty();
    let mut page = desk.page();
    page.heading(if closes { "Closed" } else { "Not closed" });
    closing_text(&mut page, &case, &closing);
    if !missed.is_empty() {
        page.heading(if own {
            "Not as the job's own `expect:` says"
        } else {
            "Would not hold as expectations, so none are saved"
        });
        for line in &missed {
            page.item("x", line);
        }
    }
    if closes {
        job.log.push(closed(&closing, open).into());
        let holds = missed.is_empty();
        job.expect = (own || holds).then_some(expect);
        let what_was_kept = kept.save(&job)?;
        let path = of.job.display();
        page.para(&match (holds, own) {
            (true, false) => format!(
                "Saved with what was confirmed as expectations. Run it again with: seepwise replay {path}"
            ),
            (true, true) => format!(
                "Saved; its own expectations are met. Run it again with: seepwise replay {path}"
            ),
            (false, true) => format!(
                "Saved with its `expect:` as it was: `seepwise replay {path}` says NOT as expected until one of the two is put right."
            ),
            (false, false) => "Saved without expectations.".to_owned(),
        });
        if what_was_kept == Kept::Entries {
            page.para(COMMENTS_LOST);
        }
    } else {
        page.para("Do what is lacking, or say with --open TEXT why it is closed all the same.");
    }
    if args.json {
        desk.json(&json::closing(&case, &closing, closes, &missed))?;
    } else {
        desk.put(page.text())?;
    }
    Ok(closes)
}

fn closed(closing: &Closing, open: &str) -> Entry {
    let says = if closing.open.is_empty() {
        "sources confirmed, retest complete and dry"
    } else if closing.sources.is_empty() {
        "nothing repaired"
    } else {
        "repaired, with something left open"
    };
    Entry::Closed {
        says: says.to_owned(),
        open: open.to_owned(),
    }
}

/// What came out, as expectations: they hold for the job as it stands.
fn expectations(case: &Case<'_>, closing: &Closing) -> Expect {
    let name = |place: Place| {
        format!(
            "{}@{}",
            case.rules.faults[place.fault].named.id, case.layout.parts[place.part].named.id
        )
    };
    let down = |p: Chance| (p.get() * 100.0 / COARSE).floor() * COARSE;
    let up = |p: Chance| ((p.get() * 100.0 / COARSE).floor() + 1.0).min(100.0 / COARSE) * COARSE;
    let part = |part: PartId| case.layout.parts[part].named.id.clone();
    let mut sources: Vec<(String, f64)> = Vec::new();
    for source in &closing.sources {
        let faults = source.faults.iter();
        let faults = faults.map(|&(place, p)| (name(place), p));
        for (name, p) in std::iter::once((part(source.part), source.leaked)).chain(faults) {
            // What was repaired twice is expected once, before its first repair.
            if p.get() >= LIKELY && sources.iter().all(|(known, _)| *known != name) {
                sources.push((name, down(p)));
            }
        }
    }
    Expect {
        sources_at_least: sources,
        causes_at_least: (closing.left.iter())
            .map(|&(place, p)| (name(place), down(p)))
            .collect(),
        leaks_at_most: (closing.leaks_now.iter())
            .map(|&(place, p)| (part(place), up(p)))
            .collect(),
        ..Expect::default()
    }
}

/// Whether a job holds an entry that says where it stands now, in words: it waits, was handed over
/// or closed, and nothing was noted since.
pub(super) fn standing(job: &JobFile) -> Option<String> {
    match &job.log.last()?.entry {
        Entry::Waiting { why, until } if until.is_empty() => Some(format!("Waiting for {why}.")),
        Entry::Waiting { why, until } => Some(format!("Waiting for {why}, until {until}.")),
        Entry::HandedOver { to, open } => Some(format!("Handed over to {to}. Still open: {open}.")),
        Entry::Closed { says, .. } => Some(format!("This job is closed: {says}.")),
        _ => None,
    }
}
