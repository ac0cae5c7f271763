//! The same as JSON, in a stable form (README, "For scripts").

use serde_json::{Value, json};

pub use crate::show::json_hunch::{hunch, stories, what_if};
pub use crate::show::json_workshop::{release, repair_sheet};

use crate::advise::{
    Case, Closing, Explanation, OpenPoint, Proposals, Ranking, Retest, Step, Verdict,
};
use crate::chance::Chance;
use crate::graph::Place;
use crate::ids::CautionId;
use crate::show::why::source_words;
use crate::show::words::task_id;

/// `{"layout", "faults": [{"fault", "place", "probability", "present"}], "leaks": [{"place",
/// "probability"}], "conditions": […]}`, each list by falling probability; `probability` of a
/// fault is that of causing a loss.
pub fn ranking(case: &Case<'_>, ranking: &Ranking) -> Value {
    let faults: Vec<Value> = ranking
        .causes
        .iter()
        .map(|cause| {
            json!({
                "fault": fault_id(case, cause.place),
                "place": part_id(case, cause.place),
                "probability": cause.probability.get(),
                "present": cause.present.get(),
                "apart": cause.apart,
            })
        })
        .collect();
    let leaks: Vec<Value> = ranking
        .leaks
        .iter()
        .map(|leak| {
            let place = &case.layout.parts[leak.part].named.id;
            json!({"place": place, "probability": leak.probability.get(), "apart": leak.apart})
        })
        .collect();
    let behind_covers: Vec<Value> = (case.behind_covers.iter())
        .map(|of| json!({"entry": of.entry, "words": of.words_for_a_file()}))
        .collect();
    let left_out: Vec<Value> = (case.left_out.iter())
        .map(|(entry, words)| json!({"entry": entry, "words": words}))
        .collect();
    let conditions: Vec<Value> = ranking
        .conditions
        .iter()
        .map(|held| json!({"condition": case.rules.conditions[held.condition].named.id, "probability": held.probability.get()}))
        .collect();
    json!({"layout": case.layout.named.id, "faults": faults, "leaks": leaks, "conditions": conditions, "behind_covers": behind_covers, "left_out": left_out})
}

/// `{"checks": [{"check", "place", "gain_bits", "minutes", "setup", …}], "bundles": […],
/// "blocked": […], "lacking": […]}`, the best first.
pub fn proposals(case: &Case<'_>, proposals: &Proposals) -> Value {
    let checks: Vec<Value> = proposals
        .checks
        .iter()
        .map(|proposal| {
            let task = &case.graph.tasks[proposal.asked.task];
            let answers: Vec<Value> = proposal
                .asked
                .options
                .iter()
                .zip(&proposal.outcomes)
                .map(|(option, outcome)| {
                    let first = outcome.first.map(|(cause, p)| {
                        let place = case.graph.causes[cause].place;
                        json!({"fault": fault_id(case, place), "place": part_id(case, place), "probability": p.get()})
                    });
                    json!({"answer": option.id, "probability": outcome.probability.get(), "first": first})
                })
                .collect();
            json!({
                "check": case.rules.checks[task.check].named.id,
                "place": task_id(case, proposal.asked.task).split_once('@').map(|(_, at)| at.to_owned()),
                "gain_bits": proposal.gain_bits,
                "minutes": proposal.minutes,
                "waiting": proposal.waiting,
                "again": task.again,
                "setup": set_up(case, &proposal.journey.to.values),
                "way": steps(case, &proposal.journey.steps),
                "way_minutes": proposal.journey.hands,
                "way_waiting": proposal.journey.waiting,
                "cautions": caution_ids(case, &proposal.cautions),
                "spoils": proposal.spoils.1.iter().map(|&task| task_id(case, task)).collect::<Vec<_>>(),
                "answers": answers,
            })
        })
        .collect();
    let bundles: Vec<Value> = proposals
        .bundles
        .iter()
        .map(|bundle| {
            json!({
                "setup": set_up(case, &bundle.journey.to.values),
                "way": steps(case, &bundle.journey.steps),
                "checks": bundle.tasks.iter().map(|&task| task_id(case, task)).collect::<Vec<_>>(),
                "gain_bits_up_to": bundle.gain_bits,
                "minutes": bundle.minutes,
                "hands": bundle.hands,
                "waiting": bundle.waiting,
            })
        })
        .collect();
    let blocked: Vec<Value> = proposals
        .blocked
        .iter()
        .map(|&(task, block)| json!({"check": task_id(case, task), "block": case.rules.blocks[block].named.id}))
        .collect();
    let lacking: Vec<Value> = (proposals.lacking.iter())
        .map(|&(task, tool)| json!({"check": task_id(case, task), "tool": case.rules.tools[tool].id}))
        .collect();
    json!({"checks": checks, "bundles": bundles, "blocked": blocked, "lacking": lacking, "passed_over_by_estimate": proposals.estimated})
}

/// An explanation: start, now, findings with their weights, paths, what is unexplained.
pub fn explanation(case: &Case<'_>, why: &Explanation) -> Value {
    let place = case.graph.causes[why.cause].place;
    let findings: Vec<Value> = why
        .readings
        .iter()
        .map(|reading| {
            json!({
                "entry": case.found[reading.found].entry,
                "finding": case.found[reading.found].words,
                "after": reading.after.get(),
                "decibans": finite(reading.decibans),
                "without": reading.without.get(),
                "decibans_last": finite(reading.last_decibans),
            })
        })
        .collect();
    let paths: Vec<Value> = why
        .paths
        .iter()
        .map(|path| {
            let links: Vec<Value> = path
                .links
                .iter()
                .map(|link| {
                    let reason = link.reason.as_ref();
                    json!({
                        "to": link.label,
                        "strength": link.strength,
                        "because": reason.map(|reason| &*reason.because),
                        "source": reason.map(|reason| source_words(&reason.source)),
                    })
                })
                .collect();
            json!({"finding": case.found[path.found].words, "links": links})
        })
        .collect();
    let rivals: Vec<Value> = why
        .rivals
        .iter()
        .map(|&(cause, without)| {
            let rival = case.graph.causes[cause].place;
            json!({"fault": fault_id(case, rival), "place": part_id(case, rival), "probability_without_it": without.get()})
        })
        .collect();
    json!({
        "fault": fault_id(case, place),
        "place": part_id(case, place),
        "start": why.start.get(),
        "probability": why.now.get(),
        "findings": findings,
        "paths": paths,
        "unexplained": why.unexplained.iter().map(|&at| case.found[at].words.clone()).collect::<Vec<_>>(),
        "rivals": rivals,
        "conflict_log10": finite(why.conflict.log10),
        "recheck": why.conflict.recheck.as_ref().map(|again| case.found[again.found].words.clone()),
    })
}

/// A closing: `{"closed", "sources": [{"place", "entry", "probability", "faults": [{"fault",
/// "probability"}]}], "remains", "open": [code]}`.
pub fn closing(case: &Case<'_>, closing: &Closing, closed: bool, missed: &[String]) -> Value {
    let sources: Vec<Value> = closing
        .sources
        .iter()
        .map(|source| {
            let faults: Vec<Value> = (source.faults.iter())
                .map(|&(place, p)| json!({"fault": fault_id(case, place), "probability": p.get()}))
                .collect();
            json!({
                "place": case.layout.parts[source.part].named.id,
                "entry": source.entry,
                "probability": source.leaked.get(),
                "faults": faults,
            })
        })
        .collect();
    let open: Vec<String> = closing
        .open
        .iter()
        .map(|point| match point {
            OpenPoint::Nothing => "nothing".to_owned(),
            OpenPoint::NotSure(..) => "not_sure".to_owned(),
            OpenPoint::NotRepaired(_) => "not_repaired".to_owned(),
            OpenPoint::Falls(_) => "falls".to_owned(),
            OpenPoint::Lacking(proof) => {
                format!("lacking {}", case.rules.retest[*proof].named.id)
            }
            OpenPoint::Remains(_) => "another".to_owned(),
            OpenPoint::Remainder => "remainder".to_owned(),
            OpenPoint::Blocked(block) => {
                format!("blocked {}", case.rules.blocks[*block].named.id)
            }
        })
        .collect();
    json!({"closed": closed,
        "missed": missed, "sources": sources, "remains": closing.remains.get(), "open": open})
}

/// A verdict: `{"verdict", "named", "another"}`.
pub fn verdict(case: &Case<'_>, verdict: &Verdict) -> Value {
    let names = |named: &[usize]| -> Vec<String> {
        let of = |&at: &usize| {
            let place = case.graph.causes[at].place;
            format!("{}@{}", fault_id(case, place), part_id(case, place))
        };
        named.iter().map(of).collect()
    };
    match verdict {
        Verdict::Repair {
            named,
            another,
            unsettled_by,
        } => {
            let unsettled = unsettled_by.map(|(task, p)| {
                json!({"check": crate::show::task_id(case, task), "probability": p.get()})
            });
            json!({
                "verdict": "repair",
                "named": names(named),
                "another": another.get(),
                "elsewhere_after": unsettled,
            })
        }
        Verdict::AnotherLikely { named, another } => {
            json!({"verdict": "another_likely", "named": names(named), "another": another.get()})
        }
        Verdict::Act {
            named,
            leaks,
            best_bits_per_hour,
        } => json!({
            "verdict": "act",
            "named": names(named),
            "leaks": leaks.get(),
            "best_bits_per_hour": best_bits_per_hour,
        }),
        Verdict::NothingLeft {
            best_bits_per_hour,
            likeliest,
            unnamed,
            most_telling,
        } => json!({
            "verdict": "nothing_left",
            "best_bits_per_hour": best_bits_per_hour,
            "likeliest": likeliest.map(Chance::get),
            "unnamed_place": likeliest.filter(|_| *unnamed).map(Chance::get),
            "most_telling": most_telling.map(|(task, bits)| json!({"check": task_id(case, task), "gain_bits": bits})),
        }),
        Verdict::Retest { remains } => {
            json!({"verdict": "retest", "remains": remains.get(), "lacking": lacking(case, *remains)})
        }
        Verdict::Watch { remains } => {
            json!({"verdict": "watch", "remains": remains.get(), "lacking": lacking(case, *remains)})
        }
        Verdict::Proved { remains } => json!({"verdict": "proved", "remains": remains.get()}),
        Verdict::GoOn => json!({"verdict": "go_on"}),
    }
}

/// What the retest lacks while something leaks with this chance: `{"part", "any_of": [check]}`.
fn lacking(case: &Case<'_>, remains: Chance) -> Vec<Value> {
    let retest = Retest::of(case);
    let lacking = retest
        .iter()
        .flat_map(|retest| retest.lacking_at(case, remains));
    lacking
        .map(|part| {
            let tasks: Vec<String> = part
                .lacking
                .iter()
                .map(|&task| task_id(case, task))
                .collect();
            json!({"part": case.rules.retest[part.proof].named.id, "any_of": tasks})
        })
        .collect()
}

pub(super) fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

fn fault_id(case: &Case<'_>, place: Place) -> String {
    case.rules.faults[place.fault].named.id.clone()
}

fn part_id(case: &Case<'_>, place: Place) -> String {
    case.layout.parts[place.part].named.id.clone()
}

fn set_up(case: &Case<'_>, values: &[usize]) -> Value {
    let pairs = case.rules.facets.iter().zip(values);
    pairs
        .map(|(facet, &value)| {
            (
                facet.named.id.clone(),
                Value::from(facet.values[value].named.id.clone()),
            )
        })
        .collect()
}

fn steps(case: &Case<'_>, steps: &[Step]) -> Vec<String> {
    steps
        .iter()
        .map(|step| match step {
            Step::Way(way) => case.rules.ways[*way].named.id.clone(),
            Step::Cover(cover) => format!("take off {}", case.layout.covers[*cover].named.id),
        })
        .collect()
}

/// The ids of cautions.
pub(super) fn caution_ids<'c>(case: &'c Case<'_>, cautions: &[CautionId]) -> Vec<&'c str> {
    let ids = cautions.iter().map(|&id| &case.rules.cautions[id].named.id);
    ids.map(String::as_str).collect()
}
