//! The repair sheet, as text to take under the bonnet.

use std::collections::BTreeSet;

use crate::advise::{Case, Feeder, Proposals, RepairSheet, Work};
use crate::chance::Chance;
use crate::graph::Place;
use crate::ids::PartId;
use crate::show::page::Page;
use crate::show::words::{cause_name, listed, place_name, task_id, task_name};

/// The sheet. Without a named source it says so, and what to do next.
pub fn repair_sheet_text(
    page: &mut Page,
    case: &Case<'_>,
    sheet: &RepairSheet,
    next: Option<&Proposals>,
) {
    if sheet.works.is_empty() {
        nothing_named(page, case, next);
        return;
    }
    page.heading(&format!("Repair sheet: {}", case.layout.named.name));
    for &caution in &sheet.cautions {
        let text = &case.rules.cautions[caution].short;
        page.caution(&text.replace("{limit}", &case.limit_words()));
    }
    for work in &sheet.works {
        work_text(page, case, work);
    }
    if !sheet.fill.is_empty() {
        page.heading("Fill and bleed");
        for (at, step) in sheet.fill.iter().enumerate() {
            page.item(&format!("{:>2}.", at + 1), step);
        }
    }
    page.heading("Then prove it");
    for &proof in &sheet.retest {
        let proof = &case.rules.retest[proof];
        let limit = |text: &str| text.replace("{limit}", &case.limit_words());
        let name = limit(&proof.named.name);
        if proof.shows.is_empty() {
            page.item("□", &format!("{name}: dry."));
        } else {
            page.item("□", &format!("{name}: {}", limit(&proof.shows)));
        }
    }
    page.para(&format!(
        "The chance of another source elsewhere is {}.",
        sheet.another.percent()
    ));
}

fn work_text(page: &mut Page, case: &Case<'_>, work: &Work) {
    let fault = &case.rules.faults[work.place.fault];
    page.heading(&format!(
        "{}: {}",
        place_name(case, work.place.part),
        cause_name(case, work.place)
    ));
    page.para(&format!(
        "The place leaks: {}. By this fault: {}.",
        work.leaks.percent(),
        work.fault.percent()
    ));
    if fault.repair.is_empty() {
        page.item(
            "·",
            "Open it and see which fault it is: the rules name none for what was found.",
        );
    } else {
        page.item("·", &format!("Work: {}", fault.repair));
    }
    for &(other, chance) in &work.others {
        page.item("·", &other_words(case, other, chance));
    }
    let mut found: Vec<String> = Vec::new();
    for &at in &work.found {
        let words = &case.found[at].words;
        if !found.contains(words) {
            found.push(words.clone());
        }
    }
    if !found.is_empty() {
        page.item("·", &format!("Found here: {}.", found.join("; ")));
    }
    for part in &work.parts {
        page.item("□", &full_stop(part));
    }
    for part in &work.renew_with {
        page.item(
            "□",
            &format!("Renew with it: {}", full_stop(&lower_first(part))),
        );
    }
    for &(feeder, chance) in &work.fed_by {
        page.item("!", &feeder_words(case, feeder, chance));
    }
}

/// What else may be behind it.
fn other_words(case: &Case<'_>, other: Place, chance: Chance) -> String {
    let name = cause_name(case, other);
    let repair = &case.rules.faults[other.fault].repair;
    let also = if repair.is_empty() {
        "Look for it while it is open.".to_owned()
    } else {
        format!("If you find that instead: {repair}")
    };
    format!("It may also be: {name} ({}). {also}", chance.percent())
}

/// What feeds a fault, with its own remedy.
fn feeder_words(case: &Case<'_>, feeder: Feeder, chance: Chance) -> String {
    let (name, remedy, comes_back) = match feeder {
        Feeder::Condition(condition) => {
            let condition = &case.rules.conditions[condition];
            (
                condition.named.name.clone(),
                condition.remedy.clone(),
                condition.comes_back,
            )
        }
        Feeder::Fault(place) => (
            format!(
                "{} at {}",
                cause_name(case, place),
                place_name(case, place.part)
            ),
            case.rules.faults[place.fault].repair.clone(),
            true,
        ),
    };
    let otherwise = if comes_back {
        " Otherwise it will come back."
    } else {
        ""
    };
    format!(
        "Behind it: {name} ({}). {remedy}{otherwise}",
        chance.percent()
    )
}

fn nothing_named(page: &mut Page, case: &Case<'_>, next: Option<&Proposals>) {
    page.heading("No repair sheet yet");
    if let Some(last) = case.mended().next_back() {
        let part = |&at: &usize| case.graph.causes[at].place.part;
        let parts: BTreeSet<PartId> = last.causes.iter().map(part).collect();
        let names = parts.iter().map(|&part| place_name(case, part).to_owned());
        let names: Vec<String> = names.collect();
        page.para(&format!(
            "Repaired in entry {}: {}. Nothing that is left is sure enough to be repaired.",
            last.entry,
            listed(&names)
        ));
    } else {
        page.para(&format!(
            "No source is named: no place leaks with {} or more.",
            Chance::new(case.rules.policy.named_at).map_or_else(|_| String::new(), Chance::percent)
        ));
    }
    let best = next.and_then(|next| next.checks.first());
    match best {
        Some(best) => page.para(&format!(
            "Next: {} [{}]. `seepwise next` says how.",
            task_name(case, best.asked.task),
            task_id(case, best.asked.task)
        )),
        None => page.para("Nothing is left to check here. Hand it over with what was found, or watch the level for two weeks and look again."),
    }
}

/// The text with a full stop, unless it ends in a mark of its own.
fn full_stop(text: &str) -> String {
    if text.ends_with(['.', '!', '?']) {
        text.to_owned()
    } else {
        format!("{text}.")
    }
}

fn lower_first(text: &str) -> String {
    let mut letters = text.chars();
    let (first, second) = (letters.next(), letters.clone().next());
    match (first, second) {
        // "O-ring" keeps its capital.
        (Some(first), Some(second)) if second.is_lowercase() || second == ' ' => {
            first.to_lowercase().chain(letters).collect()
        }
        _ => text.to_owned(),
    }
}
