//! Why a cause stands where it stands, as text.

use crate::advise::{Answered, Case, Explanation, Reading, Weighed};
use crate::graph::Place;
use crate::rules::base::{Reading as SignReads, Reason, Scope, Source};
use crate::show::conflict::conflict_text;
use crate::show::page::Page;
use crate::show::words::{cause_name, full_name, place_name};

/// Below this chance it is told what spoke against a cause.
const LOW: f64 = 0.1;

/// The whole explanation of a cause.
pub fn why_text(page: &mut Page, case: &Case<'_>, why: &Explanation) {
    let place = case.graph.causes[why.cause].place;
    let fault = &case.rules.faults[place.fault];
    page.heading(&format!(
        "{}: {}",
        place_name(case, place.part),
        cause_name(case, place)
    ));
    page.para(&format!(
        "Before anything was found it had {}{} of causing a loss; now it has {} (odds {}).",
        if repaired(case, place) {
            "(repaired as it is) "
        } else {
            ""
        },
        why.start.percent(),
        why.now.percent(),
        why.now.odds_words()
    ));
    if !fault.shows.is_empty() {
        page.para(&format!("How it shows: {}", fault.shows));
    }
    reason_text(page, "Why it can be", &fault.reason);
    against_text(page, case, why);
    if !why.readings.is_empty() {
        page.heading("What each finding did, in the order you found it");
        page.aside("3 dB doubles or halves the odds; 10 dB makes them ten times as good or bad.");
    }
    let (telling, rest): (Vec<&Reading>, Vec<&Reading>) = why
        .readings
        .iter()
        .partition(|reading| reading.decibans.abs() >= 0.5 || reading.last_decibans.abs() >= 0.5);
    for reading in telling {
        reading_text(page, case, reading);
    }
    if !rest.is_empty() {
        let sum: f64 = rest.iter().map(|reading| reading.decibans).sum();
        page.item(
            "·",
            &format!(
                "{} more findings hardly touch it ({sum:+.1} dB together).",
                rest.len()
            ),
        );
    }
    for path in &why.paths {
        page.heading(&format!(
            "How it leads to: {}{}",
            case.when(&case.found[path.found]),
            case.found[path.found].words
        ));
        path_text(page, &path.links);
    }
    let left: Vec<&Answered> = why
        .unexplained
        .iter()
        .map(|&at| &case.found[at])
        .filter(|found| asks_for_a_cause(case, found))
        .collect();
    if !left.is_empty() {
        page.heading("What it leaves unexplained");
        for found in left {
            page.item("?", &found.words);
        }
    }
    for &(rival, without) in &why.rivals {
        let other = case.graph.causes[rival].place;
        page.para(&format!(
            "Partly explained away by {} ({}): without that one it would have {}.",
            place_name(case, other.part),
            cause_name(case, other),
            without.percent()
        ));
    }
    conflict_text(page, case, &why.conflict);
}

/// Why a cause stands low: what spoke against it, or that it began so.
fn against_text(page: &mut Page, case: &Case<'_>, why: &Explanation) {
    let Some(leader) = why.leader else { return };
    if why.now.get() >= LOW || leader.now.get() < 2.0 * why.now.get() {
        return;
    }
    page.heading("Why not");
    let mut against: Vec<&Reading> = why
        .readings
        .iter()
        .filter(|reading| reading.last_decibans <= -0.5 || reading.decibans <= -0.5)
        .collect();
    against.sort_by(|a, b| weaker(a).total_cmp(&weaker(b)).then(a.found.cmp(&b.found)));
    for reading in against.into_iter().take(3) {
        let times = 10_f64.powf(-weaker(reading) / 10.0);
        page.item(
            "-",
            &format!(
                "{}: lowers its odds {times:.1} times.",
                case.found[reading.found].words
            ),
        );
    }
    let name = full_name(case, leader.cause);
    let text = if why.start.get() * 2.0 < leader.start.get() {
        format!(
            "It is rarer to begin with: {} before any finding, against {} for {name}, which leads now with {}.",
            why.start.percent(),
            leader.start.percent(),
            leader.now.percent()
        )
    } else {
        format!(
            "{name} leads with {}: the findings spoke more for that.",
            leader.now.percent()
        )
    };
    page.para(&text);
}

/// The smaller of a finding's two weights.
fn weaker(reading: &Reading) -> f64 {
    reading.decibans.min(reading.last_decibans)
}

fn repaired(case: &Case<'_>, place: Place) -> bool {
    let mut mended = case.mended().flat_map(|repair| &repair.causes);
    mended.any(|&cause| case.graph.causes[cause].place == place)
}

/// A path, one line for each place.
fn path_text(page: &mut Page, links: &[Weighed]) {
    let place = |link: &Weighed| {
        let (place, _) = link.label.split_once(": ")?;
        Some(place.to_owned())
    };
    let same = |a: &Weighed, b: &Weighed| place(a).is_some() && place(a) == place(b);
    for group in links.chunk_by(same) {
        let said: Vec<String> = group
            .iter()
            .enumerate()
            .map(|(position, link)| {
                let label = match link.label.split_once(": ") {
                    Some((_, what)) if position > 0 => what,
                    _ => link.label.as_str(),
                };
                if link.strength.is_empty() {
                    label.to_owned()
                } else {
                    format!("{label} ({})", link.strength)
                }
            })
            .collect();
        page.item("→", &said.join(", then "));
        for reason in group.iter().filter_map(|link| link.reason.as_ref()) {
            if !reason.because.is_empty() {
                page.aside(&format!(
                    "{} [{}]",
                    reason.because,
                    source_words(&reason.source)
                ));
            }
        }
    }
}

/// Whether a finding is something to be explained: not one that only tells of the vehicle's past
/// or is certain by itself.
fn asks_for_a_cause(case: &Case<'_>, found: &Answered) -> bool {
    found.task.is_some_and(|task| {
        let check = &case.rules.checks[case.graph.tasks[task].check];
        if matches!(check.scope, Scope::Sweep(_)) {
            return true;
        }
        let mut reads = check.signs.iter().flat_map(|sign| &sign.reads);
        reads.any(|read| !matches!(read.of, SignReads::Condition(_)))
    })
}

fn reading_text(page: &mut Page, case: &Case<'_>, reading: &Reading) {
    let found = &case.found[reading.found];
    let words = format!("{}{}", case.when(found), found.words);
    // A finding that others bear out may weigh little at its turn and much in the end.
    let strongest = if reading.last_decibans.abs() > reading.decibans.abs() {
        reading.last_decibans
    } else {
        reading.decibans
    };
    page.item(
        "·",
        &format!(
            "{words}: {} → {} ({:+.1} dB). Without it, all else kept: {}.",
            weight_words(strongest),
            reading.after.percent(),
            reading.decibans,
            reading.without.percent()
        ),
    );
}

/// A weight of evidence in words. 3 dB doubles the odds; 10 dB makes them tenfold.
pub(super) fn weight_words(decibans: f64) -> &'static str {
    match decibans {
        d if d >= 10.0 => "speaks strongly for it",
        d if d >= 3.0 => "speaks for it",
        d if d >= 0.5 => "speaks a little for it",
        d if d > -0.5 => "says nothing about it",
        d if d > -3.0 => "speaks a little against it",
        d if d > -10.0 => "speaks against it",
        _ => "speaks strongly against it",
    }
}

fn reason_text(page: &mut Page, what: &str, reason: &Reason) {
    if !reason.because.is_empty() {
        page.para(&format!(
            "{what}: {} [{}]",
            reason.because,
            source_words(&reason.source)
        ));
    }
}

/// The kind of a source in words.
pub fn source_words(source: &Source) -> String {
    match source {
        Source::Published(what) => format!("published: {what}"),
        Source::Practice => "common practice".to_owned(),
        Source::Memory => "from memory".to_owned(),
        Source::Judgement => "author's judgement".to_owned(),
    }
}
