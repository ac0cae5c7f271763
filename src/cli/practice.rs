//! `practice`: find a planted leak on paper, and hear how you did.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::json;

use crate::advise::{Case, Suspect};
use crate::cli::Desk;
use crate::cli::args::{Args, PracticeArgs};
use crate::cli::failure::Failure;
use crate::cli::hunch::suspect_named;
use crate::cli::world::{Vehicle, World};
use crate::job::{Unclear, find_block, find_suspect, find_task};
use crate::show::{Page, full_name, minutes_text, suspect_name, task_id, task_name};
use crate::train::{Debrief, Done, Field, Practice, Strain, Truth, draw_planted, draw_with_loss};

/// So many checks are listed for a word.
const LISTED: usize = 12;

const HELP: &str = "Type a check as CHECK or CHECK@PLACE; `checks WORD` lists those whose name holds a word, `cleared BLOCK` makes safe what a block forbids, `found` repeats what you know, `guess WORDS` ends it with what you think it is, `quit` gives up.";

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &PracticeArgs) -> Result<bool, Failure> {
    desk.talks_aside = args.json;
    let world = World::load(args, desk.surroundings)?;
    let vehicle = world.vehicle(&of.layout)?;
    let field = Field {
        rules: vehicle.rules,
        layout: vehicle.layout,
        graph: &vehicle.graph,
        shop: vehicle.shop.clone(),
        waiting_counts: world.waiting_counts(None)?,
        truth: Truth::of(&vehicle.graph, Strain::default(), 0),
    };
    let mut random = ChaCha8Rng::seed_from_u64(of.seed);
    let drawn = match &of.plant {
        None => draw_with_loss(
            field.rules,
            field.layout,
            field.graph,
            &field.truth,
            &mut random,
        )?,
        Some(words) => {
            let cause = planted(&vehicle, &field, words, &mut random)?;
            draw_planted(field.rules, field.layout, field.graph, cause, &mut random)?
        }
    };
    let mut practice = Practice::begin(&field, drawn, random)?;
    let mut page = desk.page();
    page.heading(&format!("Exercise on the {}", field.layout.named.name));
    page.para("Something on it loses coolant. Nothing here is done on a real vehicle: on one, the cautions of each check come first (`seepwise next`).");
    let case = practice.case()?;
    for found in &case.found {
        page.item("·", &found.words);
    }
    page.para(HELP);
    desk.put(page.text())?;
    let first = if of.guess_first {
        first_guess(desk, &case)?
    } else {
        None
    };
    let named = lead(desk, &mut practice)?;
    let debrief = practice.debrief(named)?;
    let case = practice.case()?;
    if args.json {
        desk.json(&view(&case, &practice, &debrief, named))?;
    } else {
        let mut page = desk.page();
        told(&mut page, &case, &practice, &debrief, (first, named));
        desk.put(page.text())?;
    }
    Ok(debrief.right == Some(true))
}

/// A fault that words name; where they fit several, one of them by chance.
fn planted(
    vehicle: &Vehicle<'_>,
    field: &Field<'_>,
    words: &str,
    random: &mut impl Rng,
) -> Result<usize, Failure> {
    let graph = field.graph;
    let suspects = match find_suspect(field.rules, field.layout, graph, words) {
        Ok(suspect) => vec![suspect],
        Err(Unclear::Several { fits, .. }) => fits,
        Err(unclear) => return Err(Failure::usage(unclear.to_string())),
    };
    let leaking = |&cause: &usize| {
        let meant = suspects.iter().any(|of| of.includes(graph, cause));
        meant && graph.causes[cause].leaking.contains(&true)
    };
    let causes: Vec<usize> = (0..graph.causes.len()).filter(leaking).collect();
    if causes.is_empty() {
        return Err(Failure::usage(format!(
            "`{words}` can't leak on {}: plant another fault",
            vehicle.layout.named.name
        )));
    }
    Ok(causes[random.random_range(0..causes.len())])
}

/// What the trainee suspects before any check; none if that is left out.
fn first_guess(desk: &mut Desk<'_>, case: &Case<'_>) -> Result<Option<Suspect>, Failure> {
    loop {
        desk.put("Before any check: what do you think it is? (Enter to leave it)\n> ")?;
        let words = desk.line()?.unwrap_or_default();
        if words.is_empty() {
            return Ok(None);
        }
        match suspect_named(case, &words) {
            Ok(suspect) => return Ok(Some(suspect)),
            Err(Failure::Told(text)) => {
                let mut page = desk.page();
                for line in text.trim_start_matches("seepwise: ").lines() {
                    page.para(line.trim());
                }
                desk.put(page.text())?;
            }
            Err(other) => return Err(other),
        }
    }
}

/// Takes checks until something is named or the trainee gives up.
fn lead(desk: &mut Desk<'_>, practice: &mut Practice<'_>) -> Result<Option<Suspect>, Failure> {
    loop {
        desk.put("> ")?;
        let Some(line) = desk.line()? else {
            return Ok(None);
        };
        let case = practice.case()?;
        let (word, rest) = line.split_once(' ').unwrap_or((&line, ""));
        let mut page = desk.page();
        match word {
            "" => {}
            "quit" => return Ok(None),
            "help" => page.para(HELP),
            "found" => {
                for found in &case.found {
                    page.item("·", &found.words);
                }
            }
            "checks" => listed(&mut page, &case, rest),
            "guess" => match suspect_named(&case, rest) {
                Ok(named) => return Ok(Some(named)),
                Err(failure) => page.para(&said(failure)),
            },
            "cleared" => match find_block(case.rules, rest) {
                Ok(block) => {
                    practice.clear(block);
                    let block = &case.rules.blocks[block];
                    page.para(&format!("Noted as made safe: {}.", block.until));
                }
                Err(problem) => page.para(&problem.to_string()),
            },
            _ => {
                let (check, at) = match line.split_once('@') {
                    Some((check, at)) => (check, Some(at)),
                    None => (line.as_str(), None),
                };
                let covers = &case.set_up.covers_off;
                match find_task(case.rules, case.layout, &case.graph, check, at, covers) {
                    Ok(task) => match practice.check(task)? {
                        Done::Shows(shows) => {
                            page.para(&format!("{}: {shows}", task_name(&case, task)));
                        }
                        Done::Blocked(block) => {
                            let block = &case.rules.blocks[block];
                            page.block(&format!(
                                "{} Until: {}. That counts against you. [cleared {}]",
                                block.says, block.until, block.named.id
                            ));
                        }
                        Done::NotNow => page.para(
                            "That is done already, spoiled by another check, or can't be done here.",
                        ),
                    },
                    Err(problem) => page.para(&format!("{problem}. `checks WORD` lists checks.")),
                }
            }
        }
        desk.put(page.text())?;
    }
}

fn said(failure: Failure) -> String {
    match failure {
        Failure::Told(text) => text.trim_start_matches("seepwise: ").to_owned(),
        Failure::Closed => String::new(),
    }
}

/// The checks whose name or typed form holds a word.
fn listed(page: &mut Page, case: &Case<'_>, word: &str) {
    let word = word.trim().to_lowercase();
    let mut all = case
        .graph
        .tasks
        .ids()
        .map(|task| (task_id(case, task), task));
    let mut shown = 0;
    for (typed, task) in all.by_ref() {
        let name = task_name(case, task);
        if typed.contains(&word) || name.to_lowercase().contains(&word) {
            page.item("·", &format!("{typed}: {name}"));
            shown += 1;
            if shown == LISTED {
                page.aside("There may be more: say more of the word.");
                return;
            }
        }
    }
    if shown == 0 {
        page.para("No check's name holds that.");
    }
}

/// How it went, in words.
fn told(
    page: &mut Page,
    case: &Case<'_>,
    practice: &Practice<'_>,
    debrief: &Debrief,
    (first, named): (Option<Suspect>, Option<Suspect>),
) {
    page.heading("How you did");
    let so: Vec<String> = (debrief.sources.iter())
        .map(|&cause| full_name(case, cause))
        .collect();
    page.para(&format!("It was: {}.", so.join("; ")));
    match (debrief.right, named) {
        (Some(true), Some(named)) => {
            page.para(&format!("You named {}: right.", suspect_name(case, named)));
        }
        (_, Some(named)) => {
            page.para(&format!("You named {}: not so.", suspect_name(case, named)));
        }
        _ => page.para("You named nothing."),
    }
    if let Some(first) = first {
        let hit = debrief.sources.iter();
        let hit = hit.copied().any(|cause| first.includes(&case.graph, cause));
        page.para(&format!(
            "Your first suspicion was {}: {}.",
            suspect_name(case, first),
            if hit { "right" } else { "not so" }
        ));
    }
    page.para(&format!(
        "You did {} checks in {}. What you found gave it {:.0} %.",
        practice.checks,
        minutes_text(practice.minutes, practice.waiting),
        100.0 * debrief.believed
    ));
    for (step, block) in &practice.refused {
        let block = &case.rules.blocks[*block];
        page.item("!", &format!("{step} was forbidden: {}", block.says));
    }
    for (done, lost) in &practice.spoiled {
        let lost = lost.iter().take(3).cloned().collect::<Vec<_>>().join(", ");
        page.item(
            "!",
            &format!("{done} spoiled what you had not looked at yet: {lost}."),
        );
    }
    page.heading("What each finding was worth");
    for &(found, decibans) in &debrief.worth {
        let sign = if decibans >= 0.05 {
            "+"
        } else if decibans <= -0.05 {
            "−"
        } else {
            "·"
        };
        let words = &case.found[found].words;
        page.item(sign, &format!("{words}: {decibans:+.1} dB"));
    }
}

fn view(
    case: &Case<'_>,
    practice: &Practice<'_>,
    debrief: &Debrief,
    named: Option<Suspect>,
) -> serde_json::Value {
    let worth: Vec<serde_json::Value> = (debrief.worth.iter())
        .map(|&(found, decibans)| {
            json!({"entry": case.found[found].entry, "finding": case.found[found].words, "decibans_last": decibans})
        })
        .collect();
    let refused: Vec<serde_json::Value> = (practice.refused.iter())
        .map(|(step, block)| json!({"check": step, "block": case.rules.blocks[*block].named.id}))
        .collect();
    let spoiled: Vec<serde_json::Value> = (practice.spoiled.iter())
        .map(|(check, lost)| json!({"check": check, "spoiled": lost}))
        .collect();
    json!({
        "sources": debrief.sources.iter().map(|&cause| full_name(case, cause)).collect::<Vec<_>>(),
        "named": named.map(|named| suspect_name(case, named)),
        "right": debrief.right,
        "probability": debrief.believed,
        "checks": practice.checks,
        "minutes": practice.minutes,
        "waiting": practice.waiting,
        "refused": refused,
        "spoiled": spoiled,
        "findings": worth,
    })
}
