//! A hunch, stories and a what-if as JSON (README, "For scripts").

use serde_json::{Value, json};

use crate::advise::{
    Case, Conflict, Effect, Hunch, Journey, Ranking, Stand, Step, Stories, Suspect,
};
use crate::show::json::{caution_ids, finite};
use crate::show::words::{suspect_id, task_id};

/// A hunch: verdict, chances, rivals, the balance sheet, what is explained, what would settle it.
pub fn hunch(case: &Case<'_>, hunch: &Hunch) -> Value {
    let words = |at: usize| &case.found[at].words;
    let (verdict, again) = match hunch.decision.stand {
        Stand::Act => ("act", None),
        Stand::CheckAgain(found) => ("check_again", Some(words(found))),
        Stand::Check => ("check", None),
        Stand::Elsewhere => ("elsewhere", None),
    };
    let rivals: Vec<Value> = hunch
        .rivals
        .iter()
        .map(|of| json!({"rival": suspect_id(case, of.suspect), "likeliest": of.likeliest.map(|cause| id(case, cause)), "start": of.start.get(), "probability": of.now.get()}))
        .collect();
    let findings: Vec<Value> = hunch
        .weights
        .iter()
        .map(|of| {
            json!({
                "entry": case.found[of.found].entry,
                "finding": words(of.found),
                "decibans_alone": finite(of.alone),
                "after": of.in_order.map(|(after, _)| after.get()),
                "decibans": of.in_order.and_then(|(_, db)| finite(db)),
                "without": of.last.map(|(without, _)| without.get()),
                "decibans_last": of.last.and_then(|(_, db)| finite(db)),
            })
        })
        .collect();
    let explained: Vec<Value> = hunch
        .explained
        .iter()
        .map(|of| {
            json!({
                "finding": words(of.found),
                "times_likelier": finite(of.by_hunch),
                "times_likelier_by_rivals": of.by_rivals.iter().map(|&by| finite(by)).collect::<Vec<_>>(),
                "explained": of.explained(),
                "only_by_hunch": of.only_by_hunch(),
            })
        })
        .collect();
    let checks: Vec<Value> = hunch
        .settlers
        .checks
        .iter()
        .map(|of| {
            json!({
                "check": task_id(case, of.asked.task),
                "way": way(case, &of.journey),
                "cautions": caution_ids(case, &of.cautions),
                "minutes": case.graph.tasks[of.asked.task].minutes + of.journey.hands,
                "waiting": case.graph.tasks[of.asked.task].waiting + of.journey.waiting,
                "bits": of.bits,
                "settles": of.settles.get(),
                "changes_decision": of.changes.get(),
                "answers": effects(&of.effects),
            })
        })
        .collect();
    let bundle = hunch.settlers.bundle.as_ref().map(|of| {
        json!({
            "checks": of.asked.iter().map(|asked| task_id(case, asked.task)).collect::<Vec<_>>(),
            "way": way(case, &of.journey),
            "cautions": caution_ids(case, &of.cautions),
            "minutes": of.hands,
            "waiting": of.waiting,
            "bits": of.bits,
            "settles": of.settles.get(),
            "changes_decision": of.changes.get(),
            "answers": effects(&of.effects),
        })
    });
    json!({
        "hunch": suspect_id(case, hunch.suspect),
        "verdict": verdict,
        "check_again": again,
        "start": hunch.start.get(),
        "probability": hunch.now.get(),
        "act_from": hunch.decision.act_from.get(),
        "dropped_below": hunch.decision.dropped_below.get(),
        "needless_repair": hunch.decision.needless_repair,
        "rivals": rivals,
        "findings": findings,
        "explained": explained,
        "conflict": conflict(case, &hunch.conflict),
        "checks": checks,
        "bundle": bundle,
    })
}

/// How the findings fit together.
fn conflict(case: &Case<'_>, conflict: &Conflict) -> Value {
    let first = |first: Option<(usize, crate::chance::Chance)>| {
        first.map(|(cause, p)| json!({"cause": id(case, cause), "probability": p.get()}))
    };
    let recheck = conflict.recheck.as_ref().map(|again| {
        let instead = again.instead.as_ref().map(|of| {
            json!({"answer": of.answer, "probability": of.probability.get(), "first": first(of.first)})
        });
        json!({
            "entry": case.found[again.found].entry,
            "finding": case.found[again.found].words,
            "others_log10": finite(again.others_log10),
            "first_without": first(again.first_without),
            "instead": instead,
        })
    });
    json!({
        "log10": finite(conflict.log10),
        "rare_cause": conflict.rare_cause.map(|cause| id(case, cause)),
        "recheck": recheck,
    })
}

/// The joint explanations.
pub fn stories(case: &Case<'_>, stories: &Stories) -> Value {
    let told: Vec<Value> = stories
        .told
        .iter()
        .zip(&stories.explains)
        .map(|(story, explains)| {
            json!({
                "sources": story.sources.iter().map(|&of| suspect_id(case, of)).collect::<Vec<_>>(),
                "probability": story.probability.get(),
                "explains": explains.iter().map(|&at| case.found[at].words.clone()).collect::<Vec<_>>(),
            })
        })
        .collect();
    json!({
        "layout": case.layout.named.id,
        "stories": told,
        "covered": stories.covered.get(),
        "others_at_most": stories.others_at_most.get(),
        "proved": stories.proved,
    })
}

/// Two rankings side by side.
pub fn what_if(
    (case, before): (&Case<'_>, &Ranking),
    (changed, after): (&Case<'_>, &Ranking),
    likely: Option<f64>,
) -> Value {
    json!({
        "answer_probability": likely,
        "before": crate::show::json::ranking(case, before),
        "after": crate::show::json::ranking(changed, after),
    })
}

fn id(case: &Case<'_>, cause: usize) -> String {
    suspect_id(case, Suspect::Cause(cause))
}

fn effects(effects: &[Effect]) -> Vec<Value> {
    let each = effects.iter().map(|of| {
        json!({"answer": of.answer, "probability": of.probability.get(), "after": of.after.get()})
    });
    each.collect()
}

fn way(case: &Case<'_>, journey: &Journey) -> Vec<String> {
    let step = |step: &Step| match step {
        Step::Way(way) => case.rules.ways[*way].named.id.clone(),
        Step::Cover(cover) => format!("take off {}", case.layout.covers[*cover].named.id),
    };
    journey.steps.iter().map(step).collect()
}
