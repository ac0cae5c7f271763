//! How the causes stand, and what a finding changed.

use crate::advise::{Case, RankedCause, RankedLeak, Ranking};
use crate::chance::Chance;
use crate::ids::ConditionId;
use crate::show::page::Page;
use crate::show::words::{cause_name, listed, place_name};

/// The ranking: places, under each the faults, under each the conditions that feed it.
pub fn ranking_text(page: &mut Page, case: &Case<'_>, ranking: &Ranking, places: usize) {
    page.heading("Where it stands");
    let shown = |leak: &&RankedLeak| leak.probability.get() >= case.rules.policy.shown_from;
    let (apart, plain): (Vec<&RankedLeak>, Vec<&RankedLeak>) = ranking
        .leaks
        .iter()
        .filter(shown)
        .partition(|leak| leak.apart);
    for leak in plain.iter().take(places) {
        leak_text(page, case, ranking, leak);
    }
    if plain.len() > places {
        let rest: f64 = plain[places..]
            .iter()
            .map(|leak| leak.probability.get())
            .sum();
        let share = Chance::new(rest.min(1.0)).map_or_else(
            |_| String::new(),
            |rest| format!(", {} together at most", rest.percent()),
        );
        page.aside(&format!(
            "and {} less likely places{share}",
            plain.len() - places
        ));
    }
    for leak in apart {
        let (name, chance) = (place_name(case, leak.part), leak.probability.percent());
        let text = if leak.probability.get() < 0.5 {
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
}

fn leak_text(page: &mut Page, case: &Case<'_>, ranking: &Ranking, leak: &RankedLeak) {
    let odds = leak.probability.odds_words();
    page.item(
        &format!("{:>11}", leak.probability.percent()),
        &format!("{} (odds {odds})", place_name(case, leak.part)),
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
        let mut line = format!(
            "{}: {}",
            cause_name(case, cause.place),
            cause.probability.percent()
        );
        let fed: Vec<String> = cause
            .fed_by
            .iter()
            .filter(|(_, held)| held.get() >= 0.35)
            .take(2)
            .map(|(condition, _)| condition_name(case, *condition).to_owned())
            .collect();
        if !fed.is_empty() {
            line = format!("{line}; fed by {}", listed(&fed));
        }
        page.item("             ", &line);
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
    for (change, leak, was) in moved.into_iter().take(4) {
        let way = if change > 0.0 { "up" } else { "down" };
        let name = place_name(case, leak.part);
        page.item(
            way,
            &format!("{name}: {} → {}", was.percent(), leak.probability.percent()),
        );
    }
}
