//! The entries of a log in words.

use crate::advise::Case;
use crate::cli::set_up::standing_words;
use crate::job::{Entry, Logged, LossTold, find_task};
use crate::rules::base::Named;
use crate::show::done_name;

/// One entry of a log in words: what it found, or what it says.
pub(super) fn step_words(case: &Case<'_>, entry: usize, logged: &Logged) -> String {
    let words = entry_words(case, entry, &logged.entry);
    match logged.before_repair {
        Some(repair) => format!("as it was before the repair in {repair}: {words}"),
        None => words,
    }
}

fn entry_words(case: &Case<'_>, entry: usize, logged: &Entry) -> String {
    let found: Vec<&str> = case
        .found
        .iter()
        .filter(|found| found.entry == entry)
        .map(|found| found.words.as_str())
        .collect();
    if found.len() > 3 {
        // A sweep: what is not normal, and how many places were.
        let abnormal: Vec<&str> = case
            .found
            .iter()
            .filter(|found| found.entry == entry && !found.normal)
            .map(|found| found.words.as_str())
            .collect();
        let normal = found.len() - abnormal.len();
        let rest = match normal {
            0 => None,
            1 => Some("one more place looked at and nothing found there".to_owned()),
            _ => Some(format!("{normal} places looked at and nothing found there")),
        };
        let abnormal = abnormal.into_iter().map(str::to_owned);
        return abnormal.chain(rest).collect::<Vec<_>>().join("; ");
    }
    if !found.is_empty() {
        return found.join("; ");
    }
    let told: Vec<&str> = case
        .told
        .iter()
        .filter(|(of, _)| *of == entry)
        .map(|(_, words)| words.as_str())
        .collect();
    if !told.is_empty() {
        return told.join("; ");
    }
    match logged {
        Entry::Found(found) => answered_later(case, &found.check, found.at.as_ref()),
        Entry::SetUp(values) => {
            let values: Vec<String> = values
                .iter()
                .map(|(facet, value)| facet_words(case, facet, value))
                .collect();
            format!("set-up: {}", values.join(", "))
        }
        Entry::CoversOff(covers) => format!("off: {}", cover_names(case, covers)),
        Entry::CoversOn(covers) => format!("back on: {}", cover_names(case, covers)),
        Entry::Withdrawn(number) => format!("entry {number} withdrawn"),
        Entry::Cleared(block) => {
            let blocks = case.rules.blocks.iter().map(|block| &block.named);
            format!("cleared: {}", named(blocks, block))
        }
        Entry::Note(text) => format!("note: {text}"),
        Entry::Loss(told) => loss_words(told),
        Entry::Gauge(log) => answered_later(case, &log.check, log.at.as_ref()),
        Entry::Coolant(reading) => answered_later(case, &reading.check, None),
        Entry::Port(map) => answered_later(case, &map.check, map.at.as_ref()),
        Entry::Repaired(done) => format!("repaired: {}", cause_names(case, &done.faults)),
        Entry::Refilled(filled) => format!("filled in {} L", filled.litres),
        Entry::Cleaned(places) => format!("wiped clean: {}", place_names(case, places)),
        Entry::ToppedUp(litres) => format!("topped up cold: {litres} L"),
        Entry::DrySpell(spell) => answered_later(case, &spell.check, None),
        Entry::Waiting { why, until } if until.is_empty() => format!("waiting for {why}"),
        Entry::Waiting { why, until } => format!("waiting for {why}, until {until}"),
        Entry::HandedOver { to, open } => format!("handed over to {to}; still open: {open}"),
        Entry::Closed { says, open } if open.is_empty() => format!("closed: {says}"),
        Entry::Closed { says, open } => format!("closed: {says}; left open: {open}"),
        Entry::Confirmed { cause, at } => {
            format!("confirmed: {}", cause_words(case, cause, at.as_deref()))
        }
        Entry::RuledOut { cause, at } => {
            format!("ruled out: {}", cause_words(case, cause, at.as_deref()))
        }
    }
}

fn answered_later(case: &Case<'_>, check: &str, at: Option<&String>) -> String {
    let covers = &case.set_up.covers_off;
    let at = at.map(String::as_str);
    let task = find_task(case.rules, case.layout, &case.graph, check, at, covers);
    let name = match (task, at) {
        (Ok(task), _) => done_name(case, task),
        (Err(_), Some(at)) => format!("{check}@{at}"),
        (Err(_), None) => check.to_owned(),
    };
    format!("{name}: told nothing, or was answered again later")
}

/// The name of what a file names, or what it wrote where nothing is called so.
fn named<'n>(mut all: impl Iterator<Item = &'n Named>, written: &str) -> String {
    let found = all.find(|named| named.id == written);
    found.map_or_else(|| written.to_owned(), |named| named.name.clone())
}

fn facet_words(case: &Case<'_>, facet: &str, value: &str) -> String {
    let mut facets = case.rules.facets.iter();
    match facets.find(|of| of.named.id == facet) {
        Some(of) => {
            let mut values = of.values.iter();
            let name = values.find(|known| known.named.id == value);
            let name = name.map_or(value, |known| known.named.name.as_str());
            standing_words(&of.named.name, name)
        }
        None => format!("{facet} {value}"),
    }
}

fn cover_names(case: &Case<'_>, covers: &[String]) -> String {
    let known = || case.layout.covers.iter().map(|cover| &cover.named);
    let names: Vec<String> = covers.iter().map(|id| named(known(), id)).collect();
    names.join(", ")
}

fn place_names(case: &Case<'_>, places: &[String]) -> String {
    let known = || case.layout.parts.iter().map(|part| &part.named);
    let names: Vec<String> = places.iter().map(|id| named(known(), id)).collect();
    names.join(", ")
}

/// `FAULT@PLACE` items by their names.
fn cause_names(case: &Case<'_>, causes: &[String]) -> String {
    let each = causes.iter().map(|written| match written.split_once('@') {
        Some((fault, at)) => cause_words(case, fault, Some(at)),
        None => cause_words(case, written, None),
    });
    each.collect::<Vec<_>>().join(", ")
}

/// A fault with its place, or a condition.
fn cause_words(case: &Case<'_>, cause: &str, at: Option<&str>) -> String {
    let (cause, at) = match (cause.split_once('@'), at) {
        (Some((fault, place)), None) => (fault, Some(place)),
        _ => (cause, at),
    };
    let faults = case.rules.faults.iter().map(|fault| &fault.named);
    let conditions = case
        .rules
        .conditions
        .iter()
        .map(|condition| &condition.named);
    let name = named(faults.chain(conditions), cause);
    match at {
        Some(at) => format!("{} ({name})", place_names(case, &[at.to_owned()])),
        None => name,
    }
}

fn loss_words(told: &LossTold) -> String {
    let when = told.hours_a_day.map_or_else(
        || "day and night".to_owned(),
        |hours| format!("{hours} hours a day"),
    );
    format!("lost: {} L in {} days, {when}", told.litres, told.days)
}
