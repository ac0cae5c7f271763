//! How the causes stand, and what a finding changed.

use std::collections::BTreeMap;

use crate::advise::{Case, Feeder, RankedCause, RankedLeak, Ranking};
use crate::chance::Chance;
use crate::ids::{ConditionId, KindId};
use crate::show::page::Page;
use crate::show::words::{cause_name, listed, place_name};

/// A place listed apart is told from this chance on.
const APART_FROM: f64 = 0.1;
/// So many places are always shown; further ones while they have half the leader's chance, or
/// this one.
const ALWAYS_SHOWN: usize = 3;
const SHARE_OF_LEADER: f64 = 0.5;
const WORTH_SHOWING: f64 = 0.1;
/// So many places of one kind are worth a word together.
const ALIKE: usize = 3;
/// A fault at least this likely to be there is told even where it hardly leaks.
const SURELY_THERE: f64 = 0.5;

/// The ranking: places, under each the faults, under each what feeds it. At most so many places,
/// fewer where the rest are many small ones.
pub fn ranking_text(page: &mut Page, case: &Case<'_>, ranking: &Ranking, places: usize) {
    page.heading(if case.mended().next().is_some() {
        "Where it stands since the repair"
    } else {
        "Where it stands"
    });
    let shown = |leak: &&RankedLeak| leak.probability.get() >= case.rules.policy.shown_from;
    let (apart, plain): (Vec<&RankedLeak>, Vec<&RankedLeak>) = ranking
        .leaks
        .iter()
        .filter(shown)
        .partition(|leak| leak.apart);
    let least = plain.first().map_or(0.0, |leader| {
        (SHARE_OF_LEADER * leader.probability.get()).min(WORTH_SHOWING)
    });
    let likely = plain
        .iter()
        .take_while(|leak| leak.probability.get() >= least)
        .count();
    let places = places.min(likely.max(ALWAYS_SHOWN)).min(plain.len());
    let (told, rest) = plain.split_at(places);
    for leak in told {
        leak_text(page, case, ranking, leak);
    }
    if plain.is_empty() {
        page.para("No place stands out. Either nothing is lost, or it goes where these rules do not look.");
    }
    if !rest.is_empty() {
        let sum: f64 = rest.iter().map(|leak| leak.probability.get()).sum();
        let share = match Chance::new(sum) {
            Ok(sum) if sum.get() < 1.0 => {
                format!(", together {} at most (the chances overlap)", sum.percent())
            }
            _ => String::new(),
        };
        page.aside(&format!("and {} less likely places{share}", rest.len()));
        many_alike(page, case, &plain, rest);
    }
    hardly_leaking(page, case, ranking, told);
    for leak in apart {
        let (name, chance) = (place_name(case, leak.part), leak.probability.percent());
        let text = if leak.probability.get() < APART_FROM {
            continue;
        } else if leak.probability.get() < 0.5 {
            format!("Apart from that, {name} may leak: {chance}.")
        } else {
            format!(
                "Apart from that, {name} leaks ({chance}): mend it first, then do again what you found with it."
            )
        };
        page.item("~", &text);
    }
    let likely: Vec<String> = ranking
        .conditions
        .iter()
        .filter(|condition| condition.probability.get() >= 0.5)
        .map(|condition| {
            format!(
                "{} ({})",
                condition_name(case, condition.condition),
                condition.probability.percent()
            )
        })
        .collect();
    if !likely.is_empty() {
        page.para(&format!("Likely behind it: {}.", listed(&likely)));
    }
    for of in &case.behind_covers {
        page.item(
            "!",
            &format!("Entry {}: {}.", of.entry, of.words_for_a_file()),
        );
    }
    for (entry, words) in &case.left_out {
        page.item(
            "!",
            &format!("Entry {entry} is left out of the figures: with it too much hangs together to be worked out. It said: {words}."),
        );
    }
}

/// Many places of one kind, each unlikely, that together are as likely as the leader.
fn many_alike(page: &mut Page, case: &Case<'_>, all: &[&RankedLeak], rest: &[&RankedLeak]) {
    let mut kinds: BTreeMap<KindId, (usize, f64)> = BTreeMap::new();
    for leak in rest {
        let (count, sum) = kinds.entry(case.layout.parts[leak.part].kind).or_default();
        *count += 1;
        *sum += leak.probability.get();
    }
    let most = kinds.into_iter().max_by(|a, b| a.1.1.total_cmp(&b.1.1));
    let leader = all.first().map_or(1.0, |leak| leak.probability.get());
    let alike = most.filter(|(_, (count, sum))| *count >= ALIKE && *sum >= leader);
    if let Some((kind, (count, sum))) = alike
        && let Ok(sum) = Chance::new(sum.min(1.0))
    {
        let name = &case.rules.kinds[kind].named.name;
        page.aside(&format!(
            "{count} of these are of one kind ({name}), together {} at most: look them all over before you settle on one place",
            sum.percent()
        ));
    }
}

fn leak_text(page: &mut Page, case: &Case<'_>, ranking: &Ranking, leak: &RankedLeak) {
    page.item(
        &format!("{:>11}", leak.probability.percent()),
        place_name(case, leak.part),
    );
    let worth_naming = |cause: &&RankedCause| {
        cause.probability.get() >= 0.1 * leak.probability.get() && cause.probability.get() >= 0.002
    };
    for cause in leak
        .causes
        .iter()
        .map(|&at| &ranking.causes[at])
        .filter(worth_naming)
        .take(3)
    {
        let mut line = format!("{}: {}", cause_name(case, cause.place), chances(cause));
        let fed: Vec<String> = cause
            .fed_by
            .iter()
            .filter(|(_, held)| held.get() >= 0.35)
            .take(2)
            .map(|(feeder, _)| feeder_name(case, *feeder))
            .collect();
        if !fed.is_empty() {
            line = format!("{line}; fed by {}", listed(&fed));
        }
        page.item("             ", &line);
    }
}

/// The chance that a fault loses coolant, and beside it that it is there, where the two differ.
fn chances(cause: &RankedCause) -> String {
    if there_but_tight(cause) {
        format!(
            "there {}, loses coolant {}",
            cause.present.percent(),
            cause.probability.percent()
        )
    } else {
        cause.probability.percent()
    }
}

fn there_but_tight(cause: &RankedCause) -> bool {
    cause.present.get() >= SURELY_THERE && cause.probability.get() < 0.6 * cause.present.get()
}

/// Faults that are there but hardly leak, at places that are not told: they look refuted else.
fn hardly_leaking(page: &mut Page, case: &Case<'_>, ranking: &Ranking, told: &[&RankedLeak]) {
    let untold = |cause: &&RankedCause| {
        there_but_tight(cause)
            && !cause.apart
            && told.iter().all(|leak| leak.part != cause.place.part)
    };
    for cause in ranking.causes.iter().filter(untold).take(3) {
        page.item(
            "~",
            &format!(
                "{}, {}: {}",
                place_name(case, cause.place.part),
                cause_name(case, cause.place),
                chances(cause)
            ),
        );
    }
}

fn feeder_name(case: &Case<'_>, feeder: Feeder) -> String {
    match feeder {
        Feeder::Condition(condition) => condition_name(case, condition).to_owned(),
        Feeder::Fault(place) => format!(
            "{} ({})",
            cause_name(case, place),
            place_name(case, place.part)
        ),
    }
}

fn condition_name<'a>(case: &'a Case<'_>, condition: ConditionId) -> &'a str {
    &case.rules.conditions[condition].named.name
}

/// What a finding moved: the places whose chance changed most.
pub fn changes_text(page: &mut Page, case: &Case<'_>, before: &Ranking, after: &Ranking) {
    let mut moved: Vec<(f64, &RankedLeak, Chance)> = after
        .leaks
        .iter()
        .filter_map(|leak| {
            let was = before
                .leaks
                .iter()
                .find(|other| other.part == leak.part)?
                .probability;
            Some((leak.probability.get() - was.get(), leak, was))
        })
        .filter(|(change, _, _)| change.abs() >= 0.01)
        .collect();
    moved.sort_by(|a, b| {
        b.0.abs()
            .total_cmp(&a.0.abs())
            .then(a.1.part.cmp(&b.1.part))
    });
    if moved.is_empty() {
        page.indented("That changes little.");
    }
    moved.truncate(4);
    // Those that rose first, the likeliest of them on top.
    moved.sort_by(|a, b| {
        let (rose_a, rose_b) = (a.0 > 0.0, b.0 > 0.0);
        let (now_a, now_b) = (a.1.probability.get(), b.1.probability.get());
        rose_b
            .cmp(&rose_a)
            .then(now_b.total_cmp(&now_a))
            .then(a.1.part.cmp(&b.1.part))
    });
    for (change, leak, was) in moved {
        let way = if change > 0.0 { "up" } else { "down" };
        let name = place_name(case, leak.part);
        page.item(
            way,
            &format!("{name}: {} → {}", was.percent(), leak.probability.percent()),
        );
    }
}
