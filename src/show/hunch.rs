//! How a hunch stands, as text: one screen at first glance, all of it with `full`.

use std::collections::BTreeSet;

use crate::advise::{
    Case, Effect, Explained, Hunch, Journey, Rival, Settling, SettlingBundle, Stand, Suspect,
    Weight,
};
use crate::chance::Chance;
use crate::ids::CautionId;
use crate::show::advice::{block_words, step_name};
use crate::show::conflict::conflict_text;
use crate::show::page::Page;
use crate::show::why::weight_words;
use crate::show::words::{
    full_name, listed, minutes_text, suspect_id, suspect_name, task_id, task_name,
};

/// Findings told at first glance.
const WEIGHTS: usize = 4;
/// Answers told at first glance.
const ANSWERS: usize = 4;
/// A finding that weighs less says nothing about a hunch, decibans.
const HARDLY: f64 = 0.5;
/// A rival less likely than this stands out no more than the rest.
const STANDS_OUT: f64 = 0.3;
/// A rival elsewhere from this chance on is a likely second source.
const LIKELY: f64 = 0.5;
/// A hunch at least this likely may be so beside a rival that leads.
const MAY_BE_TOO: f64 = 0.1;
/// A check that settles a hunch less often than this is said not to.
const OFTEN: f64 = 0.5;
/// A check that changes the decision less often than this is not worth its time for that.
const HARDLY_EVER: f64 = 0.01;
/// Joint answers told at first glance.
const JOINT_ANSWERS: usize = 2;

/// How a hunch stands.
pub fn hunch_text(page: &mut Page, case: &Case<'_>, hunch: &Hunch, full: bool) {
    page.heading(&verdict(case, hunch));
    for &block in &case.blocks {
        page.block(&block_words(case, block));
    }
    page.para(&figures(hunch));
    let rivals: Vec<String> = hunch.rivals.iter().map(|of| rival(case, *of)).collect();
    if !rivals.is_empty() {
        page.para(&format!(
            "Strongest rivals, with the likeliest fault: {}.",
            rivals.join("; ")
        ));
    }
    weights_text(page, case, hunch, full);
    explained_text(page, case, hunch, full);
    conflict_text(page, case, &hunch.conflict);
    settlers_text(page, case, hunch, full);
    repair_text(page, case, hunch);
    if !full {
        let dear = hunch.weights.iter().any(|weight| weight.last.is_none());
        let why = if dear {
            ", and what was too dear for a quick answer"
        } else {
            ""
        };
        page.aside(&format!(
            "More, with every finding and answer{why}: add --full."
        ));
    }
}

/// The verdict in one sentence.
fn verdict(case: &Case<'_>, hunch: &Hunch) -> String {
    let name = suspect_name(case, hunch.suspect);
    match hunch.decision.stand {
        Stand::Act => {
            let here = hunch.suspect.part(&case.graph);
            let other = hunch
                .rivals
                .iter()
                .find(|rival| rival.suspect.part(&case.graph) != here && rival.now.get() >= LIKELY);
            let too = other.map_or_else(String::new, |rival| {
                format!(
                    " It is hardly the only one: {} has {}.",
                    rival_name(case, *rival),
                    rival.now.percent()
                )
            });
            format!("Act now: {name}.{too}")
        }
        Stand::CheckAgain(found) => format!(
            "Check one finding again before you act on {name}: {}.",
            case.found[found].words
        ),
        Stand::Check => format!("Check first: {name}."),
        Stand::Elsewhere => match hunch.rivals.first() {
            Some(rival) if rival.now.get() >= STANDS_OUT && hunch.now.get() >= MAY_BE_TOO => {
                format!(
                    "The findings point elsewhere first: {}; {name} may leak as well.",
                    rival_name(case, *rival)
                )
            }
            Some(rival) if rival.now.get() >= STANDS_OUT => format!(
                "The findings point elsewhere: {}, not {name}.",
                rival_name(case, *rival)
            ),
            _ => format!("The findings point elsewhere than {name}, to nothing in particular yet."),
        },
    }
}

fn figures(hunch: &Hunch) -> String {
    let decision = &hunch.decision;
    let cost = format!("{:.1}", decision.needless_repair);
    format!(
        "Your hunch has {} (odds {}), before any finding {}. Acting is reasonable from {} on: a needless repair here costs {} times what a check more does (policy).",
        hunch.now.percent(),
        hunch.now.odds_words(),
        hunch.start.percent(),
        decision.act_from.percent(),
        cost.trim_end_matches(".0")
    )
}

fn rival(case: &Case<'_>, rival: Rival) -> String {
    format!("{} {}", rival_name(case, rival), rival.now.percent())
}

/// A place by its likeliest fault, another fault at the same place by itself.
fn rival_name(case: &Case<'_>, rival: Rival) -> String {
    match rival.likeliest {
        Some(cause) => full_name(case, cause),
        None => suspect_name(case, rival.suspect),
    }
}

fn weights_text(page: &mut Page, case: &Case<'_>, hunch: &Hunch, full: bool) {
    if hunch.weights.is_empty() {
        return;
    }
    let ordered = hunch.weights.iter().all(|weight| weight.in_order.is_some());
    page.heading(if ordered {
        "What each finding did, in the order you found it"
    } else {
        "What each finding says, taken by itself"
    });
    let figure = |weight: &Weight| weight.in_order.map_or(weight.alone, |(_, db)| db);
    let most = |weight: &Weight| {
        let last = weight.last.map_or(0.0, |(_, db)| db.abs());
        figure(weight).abs().max(last)
    };
    let mut told: Vec<&Weight> = hunch
        .weights
        .iter()
        .filter(|of| most(of) >= HARDLY)
        .collect();
    if !full {
        told.sort_by(|a, b| most(b).total_cmp(&most(a)).then(a.found.cmp(&b.found)));
        told.truncate(WEIGHTS);
        told.sort_by_key(|weight| weight.found);
    }
    for weight in &told {
        let mark = if figure(weight) < 0.0 { "-" } else { "+" };
        page.item(mark, &weight_line(case, weight));
    }
    let rest: Vec<&Weight> = hunch
        .weights
        .iter()
        .filter(|weight| told.iter().all(|of| of.found != weight.found))
        .collect();
    if !rest.is_empty() {
        let sum: f64 = rest.iter().map(|weight| figure(weight)).sum();
        let together = if ordered {
            format!(", {sum:+.1} dB together")
        } else {
            String::new()
        };
        let count = match rest.len() {
            1 => "1 more finding".to_owned(),
            n => format!("{n} more findings"),
        };
        page.item("·", &format!("{count} of less weight{together}."));
    }
    if full {
        page.aside("3 dB doubles or halves the odds; 10 dB makes them ten times as good or bad.");
        if !ordered {
            page.aside("Weights taken one by one do not add up where findings hang together.");
        }
    }
}

fn weight_line(case: &Case<'_>, weight: &Weight) -> String {
    let words = &case.found[weight.found].words;
    let Some((after, db)) = weight.in_order else {
        return format!(
            "{words}: {} ({:+.1} dB)",
            weight_words(weight.alone),
            weight.alone
        );
    };
    let without = weight.last.map_or_else(String::new, |(without, _)| {
        format!("; without it {}", without.percent())
    });
    format!(
        "{words}: {} ({db:+.1} dB) → {}{without}",
        weight_words(db),
        after.percent()
    )
}

fn explained_text(page: &mut Page, case: &Case<'_>, hunch: &Hunch, full: bool) {
    let words = |of: &Explained| case.found[of.found].words.clone();
    let told = |found: Vec<String>| {
        if full || found.len() <= 3 {
            found.join("; ")
        } else {
            format!("{}; and {} more", found[..3].join("; "), found.len() - 3)
        }
    };
    let left: Vec<String> = hunch
        .explained
        .iter()
        .filter(|of| !of.explained())
        .map(words)
        .collect();
    let only: Vec<String> = hunch
        .explained
        .iter()
        .filter(|of| of.only_by_hunch())
        .map(words)
        .collect();
    if !left.is_empty() {
        page.para(&format!(
            "If it were the only source, it would leave unexplained: {}.",
            told(left)
        ));
    } else if !hunch.explained.is_empty() {
        page.para("As the only source it would explain everything abnormal that you found.");
    }
    if !only.is_empty() {
        page.para(&format!(
            "It explains what none of these rivals does: {}.",
            told(only)
        ));
    }
    if full {
        for of in &hunch.explained {
            let rivals: Vec<String> = hunch
                .rivals
                .iter()
                .zip(&of.by_rivals)
                .map(|(rival, times)| format!("{}: {}", rival_name(case, *rival), lift(*times)))
                .collect();
            page.item(
                "·",
                &format!(
                    "{}: {} as likely with the hunch alone as with nothing leaking ({})",
                    words(of),
                    lift(of.by_hunch),
                    rivals.join("; ")
                ),
            );
        }
    }
}

fn lift(times: f64) -> String {
    if times >= 99.5 {
        "over 100 times".to_owned()
    } else if times >= 9.95 {
        format!("{times:.0} times")
    } else {
        format!("{times:.1} times")
    }
}

fn settlers_text(page: &mut Page, case: &Case<'_>, hunch: &Hunch, full: bool) {
    let Some(best) = hunch.settlers.checks.first() else {
        page.para("No check that can be done now tells anything about it.");
        return;
    };
    let settled = hunch.decision.settles(hunch.now.get());
    if settled && best.changes.get() < HARDLY_EVER && !full {
        page.para(&format!(
            "No check at hand is likely to change that: the best does so {} of the time.",
            best.changes.percent()
        ));
        return;
    }
    page.heading(match (settled, best.settles.get() >= OFTEN) {
        (true, _) => "What could still change that",
        (false, true) => "What would settle it",
        (false, false) => "Nothing settles it alone; this tells most for its time",
    });
    let mut told = BTreeSet::new();
    check_text(page, case, best, settled, full);
    cautions_text(page, case, &best.cautions, &mut told);
    if let Some(bundle) = &hunch.settlers.bundle
        && (full || better(bundle, best, settled))
    {
        bundle_text(page, case, bundle, settled, full);
        cautions_text(page, case, &bundle.cautions, &mut told);
    }
    if full {
        for check in hunch.settlers.checks.iter().skip(1).take(4) {
            check_text(page, case, check, settled, true);
            cautions_text(page, case, &check.cautions, &mut told);
        }
    }
}

/// A bundle is shown at first glance if it settles it this much oftener than the single check.
const WORTH_SHOWING: f64 = 0.05;

/// Whether checks in one go do more for a hunch than the one check.
fn better(bundle: &SettlingBundle, check: &Settling, settled: bool) -> bool {
    if settled {
        bundle.changes.get() > check.changes.get() + WORTH_SHOWING
    } else {
        bundle.settles.get() > check.settles.get() + WORTH_SHOWING
    }
}

/// How often it settles a hunch, and how often it changes what to do.
fn odds_text(settled: bool, settles: Chance, changes: Chance) -> String {
    if settled {
        format!("Changes what to do {} of the time.", changes.percent())
    } else {
        format!(
            "Settles it {} of the time; changes what to do {}.",
            settles.percent(),
            changes.percent()
        )
    }
}

fn way(case: &Case<'_>, journey: &Journey) -> String {
    let steps: Vec<String> = journey
        .steps
        .iter()
        .map(|&step| step_name(case, step))
        .collect();
    if steps.is_empty() {
        String::new()
    } else {
        format!("{}, then ", listed(&steps))
    }
}

fn check_text(page: &mut Page, case: &Case<'_>, check: &Settling, settled: bool, full: bool) {
    let task = &case.graph.tasks[check.asked.task];
    let minutes = minutes_text(
        task.minutes + check.journey.hands,
        task.waiting + check.journey.waiting,
    );
    page.item(
        "→",
        &format!(
            "{}{}  [{}], {minutes}. {}",
            way(case, &check.journey),
            task_name(case, check.asked.task),
            task_id(case, check.asked.task),
            odds_text(settled, check.settles, check.changes)
        ),
    );
    effects_text(
        page,
        &check.effects,
        if full { usize::MAX } else { ANSWERS },
    );
}

fn bundle_text(
    page: &mut Page,
    case: &Case<'_>,
    bundle: &SettlingBundle,
    settled: bool,
    full: bool,
) {
    let names: Vec<String> = bundle
        .asked
        .iter()
        .map(|asked| task_name(case, asked.task))
        .collect();
    page.item(
        "→",
        &format!(
            "In one go: {}{} ({}). {}",
            way(case, &bundle.journey),
            listed(&names),
            minutes_text(bundle.hands, bundle.waiting),
            odds_text(settled, bundle.settles, bundle.changes)
        ),
    );
    effects_text(
        page,
        &bundle.effects,
        if full { usize::MAX } else { JOINT_ANSWERS },
    );
}

/// What the likeliest answers do.
fn effects_text(page: &mut Page, effects: &[Effect], most: usize) {
    let mut told: Vec<&Effect> = effects.iter().collect();
    told.sort_by(|a, b| b.probability.get().total_cmp(&a.probability.get()));
    told.truncate(most);
    for effect in told {
        page.item(
            "    ·",
            &format!(
                "{} ({}) → {}",
                effect.answer,
                effect.probability.percent(),
                effect.after.percent()
            ),
        );
    }
}

/// Cautions that were not told before.
fn cautions_text(
    page: &mut Page,
    case: &Case<'_>,
    cautions: &[CautionId],
    told: &mut BTreeSet<CautionId>,
) {
    for &caution in cautions {
        if told.insert(caution) {
            let text = &case.rules.cautions[caution].short;
            page.caution(&text.replace("{limit}", &case.limit_words()));
        }
    }
}

/// The repair, where acting is reasonable.
fn repair_text(page: &mut Page, case: &Case<'_>, hunch: &Hunch) {
    if hunch.decision.stand != Stand::Act {
        return;
    }
    if let Suspect::Cause(cause) = hunch.suspect {
        let fault = &case.rules.faults[case.graph.causes[cause].place.fault];
        if !fault.repair.is_empty() {
            page.heading("Repair");
            page.para(&fault.repair);
        }
    } else {
        page.para(&format!(
            "Which fault it is: `rank` lists those at {}.",
            suspect_id(case, hunch.suspect)
        ));
    }
}
