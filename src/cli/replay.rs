//! `replay`: runs scenarios, tells their story, and compares the end with what they expect.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use crate::advise::{Account, Belief, Case, Proposals, Ranking, Source, Verdict, sources};
use crate::cli::Desk;
use crate::cli::args::{Args, ReplayArgs};
use crate::cli::failure::Failure;
use crate::cli::story::step_words;
use crate::cli::world::{World, case_of, file_problems, read_job};
use crate::ids::PartId;
use crate::job::{Expect, JobFile, find_block, find_cause, find_condition, find_part};
use crate::show::{
    Page, account_text, cause_name, changes_text, json as as_json, place_name, proposal_text,
    ranking_text, task_id, verdict_text,
};
use crate::source::disk::is_yaml;

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &ReplayArgs) -> Result<bool, Failure> {
    let world = World::load(args, desk.surroundings)?;
    let mut all_met = true;
    let mut values = Vec::new();
    let files = files(&of.files)?;
    let mut unread = 0;
    for path in &files {
        let mut page = desk.page();
        let replayed = read_job(path, desk.surroundings)
            .and_then(|job| replay(&world, path, &job, &mut page, desk, of.brief));
        match replayed {
            Ok((value, met)) => {
                all_met &= met;
                values.push(value);
                if !args.json {
                    desk.put(page.text())?;
                }
            }
            // The others are replayed all the same.
            Err(Failure::Told(problem)) if files.len() > 1 => {
                unread += 1;
                values.push(json!({"scenario": name_of(path), "problem": problem}));
                if !args.json {
                    desk.put(&format!("{problem}\n"))?;
                }
            }
            Err(failure) => return Err(failure),
        }
    }
    if args.json {
        desk.json(&Value::from(values))?;
    }
    if unread > 0 {
        let all = files.len();
        return Err(Failure::usage(format!(
            "{unread} of {all} files could not be replayed: the reasons stand above"
        )));
    }
    Ok(all_met)
}

/// The name of a scenario: that of its file without the ending.
fn name_of(path: &Path) -> String {
    path.file_stem().map_or_else(
        || "job".to_owned(),
        |stem| stem.to_string_lossy().into_owned(),
    )
}

/// The files named, and those in the folders named, sorted.
fn files(named: &[PathBuf]) -> Result<Vec<PathBuf>, Failure> {
    let mut files = Vec::new();
    for path in named {
        if path.is_dir() {
            let mut inside = Vec::new();
            for entry in std::fs::read_dir(path)? {
                let path = entry?.path();
                if is_yaml(&path) {
                    inside.push(path);
                }
            }
            if inside.is_empty() {
                return Err(Failure::usage(format!(
                    "there is no job file (.yaml or .yml) in `{}`",
                    path.display()
                )));
            }
            inside.sort();
            files.extend(inside);
        } else {
            files.push(path.clone());
        }
    }
    Ok(files)
}

fn replay(
    world: &World,
    path: &Path,
    job: &JobFile,
    page: &mut Page,
    desk: &Desk<'_>,
    brief: bool,
) -> Result<(Value, bool), Failure> {
    let vehicle = world.vehicle(&job.layout)?;
    let waiting = world.waiting_counts(None)?;
    let name = name_of(path);
    let mut log = vehicle.log_reader(waiting);
    let mut case_after = |job: &JobFile| {
        case_of(&mut log, job).map_err(|found| file_problems(&found, path, desk.surroundings))
    };
    if !brief {
        page.heading(&format!("{}  [{name}]", job.title));
        page.para(&format!("Vehicle: {}.", vehicle.layout.named.name));
        if !job.complaint.is_empty() {
            page.para(&format!("Complaint: {}", job.complaint));
        }
    }
    let mut steps = Vec::new();
    let mut so_far = JobFile {
        log: Vec::new(),
        expect: None,
        ..job.clone()
    };
    if let Some(expect) = &job.expect {
        let known = expect.check(world.rules()?, vehicle.layout, &vehicle.graph);
        known.map_err(|found| file_problems(&found, path, desk.surroundings))?;
    }
    let start = case_after(&so_far)?;
    let mut before = Ranking::of(&start, &Belief::of(&start, &[])?)?;
    for (position, logged) in job.log.iter().enumerate() {
        so_far.log.push(logged.clone());
        let case = case_after(&so_far)?;
        let words = step_words(&case, position + 1, logged);
        let after = Ranking::of(&case, &Belief::of(&case, &[])?)?;
        if !brief {
            page.item(&format!("{:>2}.", position + 1), &words);
            if before != after {
                changes_text(page, &case, &before, &after);
            }
        }
        let first = after.first().map(|cause| {
            json!({
                "fault": case.rules.faults[cause.place.fault].named.id,
                "place": case.layout.parts[cause.place.part].named.id,
                "probability": cause.probability.get(),
            })
        });
        steps.push(json!({"entry": position + 1, "finding": words, "first": first}));
        before = after;
    }
    let case = case_after(&so_far)?;
    let Ending {
        ranking,
        proposals,
        verdict,
        missed,
    } = ending(&case, job.expect.as_ref())?;
    if !brief {
        ranking_text(page, &case, &ranking, 5);
        verdict_text(page, &case, &verdict);
        if let Some(account) = Account::of(&case, verdict.named())? {
            account_text(page, &case, &account);
        }
        let over = case.closed.is_some()
            || matches!(verdict, Verdict::Repair { .. } | Verdict::Proved { .. });
        if !over && let Some(best) = proposals.checks.first() {
            proposal_text(page, &case, best, &mut BTreeSet::new(), false);
        }
        page.blank();
    }
    let expects = job.expect.as_ref().is_some_and(|expect| !expect.is_empty());
    if expects {
        let outcome = if missed.is_empty() {
            "as expected"
        } else {
            "NOT as expected"
        };
        page.para(&format!("{name}: {outcome}."));
        for line in &missed {
            page.item("x", line);
        }
        if !missed.is_empty()
            && let Some(first) = ranking.first()
        {
            let place = place_name(&case, first.place.part);
            page.para(&format!(
                "Likeliest is: {place} ({}).",
                cause_name(&case, first.place)
            ));
        }
    }
    if !expects && (brief || job.expect.is_some()) {
        page.para(&format!("{name}: it says nothing of what must come out."));
    }
    let told = as_json::ranking(&case, &ranking);
    let value = json!({
        "scenario": name,
        "layout": job.layout,
        "steps": steps,
        "faults": told["faults"],
        "leaks": told["leaks"],
        "verdict": as_json::verdict(&case, &verdict),
        "met": expects.then_some(missed.is_empty()),
        "missed": missed,
    });
    Ok((value, missed.is_empty()))
}

/// How a job ends.
pub(super) struct Ending {
    pub ranking: Ranking,
    pub proposals: Proposals,
    pub verdict: Verdict,
    /// What did not come out as expected, a line each.
    pub missed: Vec<String>,
}

/// Works out how a job ends, and compares it with what is expected.
pub(super) fn ending(case: &Case<'_>, expect: Option<&Expect>) -> Result<Ending, Failure> {
    let (proposals, belief) = Proposals::of(case)?;
    let ranking = Ranking::of(case, &belief)?;
    let verdict = Verdict::of(case, &ranking, &belief, &proposals)?;
    let before_repair = match expect {
        Some(expect) if !expect.sources_at_least.is_empty() => sources(case)?,
        _ => Vec::new(),
    };
    let missed = expect.map_or_else(Vec::new, |expect| {
        missed(case, &ranking, &proposals, &before_repair, expect)
    });
    Ok(Ending {
        ranking,
        proposals,
        verdict,
        missed,
    })
}

/// What did not come out as expected, a line each.
fn missed(
    case: &Case<'_>,
    ranking: &Ranking,
    proposals: &Proposals,
    before_repair: &[Source],
    expect: &Expect,
) -> Vec<String> {
    let mut missed = Vec::new();
    let part = |name: &str| find_part(case.layout, name).ok();
    let leaks = ranking.leaks.iter().filter(|leak| !leak.apart);
    let leaks: Vec<PartId> = leaks.map(|leak| leak.part).collect();
    let mut among = |count: usize, places: &[String]| {
        let front = &leaks[..count.min(leaks.len())];
        for place in places {
            if part(place).is_none_or(|part| !front.contains(&part)) {
                let ids = front.iter().map(|&part| &*case.layout.parts[part].named.id);
                missed.push(format!(
                    "{place} is not among the first {count}: {}",
                    ids.collect::<Vec<_>>().join(", ")
                ));
            }
        }
    };
    among(expect.first.len(), &expect.first);
    if let Some((count, places)) = &expect.among_first {
        among(*count, places);
    }
    let cause = |name: &str| {
        let at = find_cause(case.rules, case.layout, &case.graph, name, None).ok()?;
        let place = case.graph.causes[at].place;
        ranking.causes.iter().find(|cause| cause.place == place)
    };
    let causes = |name: &str| cause(name).map(|cause| cause.probability.get() * 100.0);
    // Of a place or a fault that was repaired more than once, the first repair counts.
    let was_source = |name: &str| {
        let fault = cause(name).map(|cause| cause.place);
        let place = part(name).filter(|_| !name.contains('@'));
        before_repair.iter().find_map(|source| {
            if place == Some(source.part) {
                return Some(source.leaked.get() * 100.0);
            }
            let mut faults = source.faults.iter();
            let found = faults.find(|(of, _)| Some(*of) == fault);
            found.map(|(_, p)| p.get() * 100.0)
        })
    };
    let places = |name: &str| {
        let part = part(name)?;
        let leak = ranking.leaks.iter().find(|leak| leak.part == part)?;
        Some(leak.probability.get() * 100.0)
    };
    let conditions = |name: &str| {
        let condition = find_condition(case.rules, name).ok()?;
        let mut held = ranking.conditions.iter();
        let held = held.find(|held| held.condition == condition)?;
        Some(held.probability.get() * 100.0)
    };
    let mut bound =
        |what: &str, wanted: &[(String, f64)], least: bool, value: &dyn Fn(&str) -> Option<f64>| {
            for (name, limit) in wanted {
                match value(name) {
                    None => missed.push(format!("there is no {what} {name} on this vehicle")),
                    Some(p) if least && p < *limit => missed.push(format!(
                        "{what} {name} has {p:.1} %, expected at least {limit} %"
                    )),
                    Some(p) if !least && p > *limit => missed.push(format!(
                        "{what} {name} has {p:.1} %, expected at most {limit} %"
                    )),
                    Some(_) => {}
                }
            }
        };
    bound(
        "repaired cause or place",
        &expect.sources_at_least,
        true,
        &was_source,
    );
    bound("cause", &expect.causes_at_least, true, &causes);
    bound("cause", &expect.causes_at_most, false, &causes);
    bound("place", &expect.leaks_at_least, true, &places);
    bound("place", &expect.leaks_at_most, false, &places);
    bound("condition", &expect.conditions_at_least, true, &conditions);
    if !expect.next_among.is_empty() {
        let best = proposals
            .checks
            .first()
            .map(|best| task_id(case, best.asked.task))
            .unwrap_or_default();
        let check = best.split('@').next().unwrap_or_default();
        if !expect
            .next_among
            .iter()
            .any(|name| *name == best || name == check)
        {
            missed.push(format!(
                "the next check is {best}, expected one of {}",
                expect.next_among.join(", ")
            ));
        }
    }
    for block in &expect.blocked {
        let up = find_block(case.rules, block).is_ok_and(|block| case.blocks.contains(&block));
        if !up {
            missed.push(format!("the block {block} is not up"));
        }
    }
    missed
}
