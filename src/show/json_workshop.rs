//! Repair sheets and release as JSON (README, "For scripts").

use serde_json::{Value, json};

use crate::advise::{Case, Doing, Feeder, Kept, Leaving, Release, RepairSheet, Slot, Step};
use crate::graph::Place;
use crate::show::json::caution_ids;
use crate::show::release::{proof_name, verdict_words};
use crate::show::words::task_id;

/// `{"works": [{"fault", "place", "leaks", "probability", "repair", "parts", "renew_with",
/// "fed_by", …}], "another", "coolant", "fill", "cautions", "retest"}`; without a named source
/// `works` is empty.
pub fn repair_sheet(case: &Case<'_>, sheet: &RepairSheet) -> Value {
    let works: Vec<Value> = sheet
        .works
        .iter()
        .map(|work| {
            let others = work.others.iter();
            let others: Vec<Value> = others
                .map(|&(place, p)| json!({"fault": fault(case, place), "probability": p.get()}))
                .collect();
            let fed_by: Vec<Value> = work
                .fed_by
                .iter()
                .map(|&(feeder, p)| match feeder {
                    Feeder::Condition(id) => {
                        let condition = &case.rules.conditions[id];
                        json!({"condition": condition.named.id, "probability": p.get(), "remedy": condition.remedy})
                    }
                    Feeder::Fault(place) => {
                        let repair = &case.rules.faults[place.fault].repair;
                        json!({"fault": fault(case, place), "place": part(case, place), "probability": p.get(), "remedy": repair})
                    }
                })
                .collect();
            let found: Vec<&str> = work
                .found
                .iter()
                .map(|&at| case.found[at].words.as_str())
                .collect();
            json!({
                "fault": fault(case, work.place),
                "place": part(case, work.place),
                "leaks": work.leaks.get(),
                "probability": work.fault.get(),
                "repair": case.rules.faults[work.place.fault].repair,
                "others": others,
                "found": found,
                "parts": work.parts,
                "renew_with": work.renew_with,
                "fed_by": fed_by,
                "coolant_stays": work.coolant_stays,
            })
        })
        .collect();
    let coolant = sheet.coolant.map(|sum| {
        let measured = sum.kept.map(|kept| {
            json!({"entry": kept.entry, "percent": kept.percent, "exchange_litres": kept.exchange})
        });
        json!({"litres": sum.litres, "percent": sum.percent, "concentrate_litres": sum.concentrate, "water_litres": sum.water, "measured": measured})
    });
    let cautions = caution_ids(case, &sheet.cautions);
    let retest: Vec<Value> = sheet
        .retest
        .iter()
        .map(|&proof| {
            let rule = &case.rules.retest[proof];
            let shows = rule.shows.replace("{limit}", &case.limit_words());
            json!({"proof": rule.named.id, "name": proof_name(case, proof), "shows": shows, "before_release": rule.before_release})
        })
        .collect();
    json!({
        "layout": case.layout.named.id,
        "works": works,
        "another": sheet.another.get(),
        "coolant": coolant,
        "fill": sheet.fill,
        "cautions": cautions,
        "retest": retest,
    })
}

/// `{"release", "decision", "because", "verdict", "minutes_left", "minutes_needed", "fits",
/// "needed": [{"do", …, "hands", "waiting"}], "later", "out_of_reach"}`.
pub fn release(case: &Case<'_>, release: &Release) -> Value {
    let decision = match release.decision {
        Leaving::Proved => "proved",
        Leaving::AfterWork => "after_work",
        Leaving::AsItIs => "as_it_is",
        Leaving::KeptBack(_) => "kept_back",
        Leaving::StaysOpen => "stays_open",
        Leaving::StillLeaks(_) => "still_leaks",
        Leaving::NotProved => "not_proved",
        Leaving::RepairFirst => "repair_first",
        Leaving::FindFirst => "find_first",
    };
    let rules = case.rules.release.iter();
    let rules: Vec<_> = rules.flat_map(|rules| &rules.keeps_back).collect();
    let because: Vec<Value> = match &release.decision {
        Leaving::KeptBack(back) => back
            .iter()
            .map(|(position, kept)| {
                let rule = rules[*position];
                let ground = match kept {
                    Kept::Block(block) => json!({"block": case.rules.blocks[*block].named.id}),
                    Kept::Found(found) => json!({"entry": case.found[*found].entry}),
                    Kept::Into(spaces, p) => {
                        let into: Vec<&str> = (spaces.iter())
                            .map(|&id| case.rules.spaces[id].named.id.as_str())
                            .collect();
                        json!({"into": into, "probability": p.get()})
                    }
                    Kept::Level(part, p) => {
                        json!({"place": case.layout.parts[*part].named.id, "probability": p.get()})
                    }
                    Kept::Loss(lost, most) => json!({"ml_a_day": lost, "covered_ml_a_day": most}),
                };
                json!({"rule": rule.named.id, "ground": ground, "says": rule.says})
            })
            .collect(),
        Leaving::StillLeaks(found) => vec![json!({"entry": case.found[*found].entry})],
        _ => Vec::new(),
    };
    let table = &release.timetable;
    let slots = |slots: &[Slot]| -> Vec<Value> { slots.iter().map(|of| slot(case, of)).collect() };
    let later: Vec<Value> = table
        .later
        .iter()
        .map(|(proof, steps)| json!({"proof": case.rules.retest[*proof].named.id, "steps": slots(steps)}))
        .collect();
    let covers: Vec<&str> = (release.covers_back(case).iter())
        .map(|&cover| case.layout.covers[cover].named.id.as_str())
        .collect();
    let out: Vec<&str> = (table.out_of_reach.iter())
        .map(|&proof| case.rules.retest[proof].named.id.as_str())
        .collect();
    json!({
        "layout": case.layout.named.id,
        "release": release.decision.leaves(),
        "decision": decision,
        "because": because,
        "verdict": verdict_words(case, release),
        "minutes_left": release.left,
        "minutes_needed": table.minutes(),
        "fits": release.left.map(|left| table.minutes() <= left),
        "needed": slots(&table.needed),
        "close_up": table.close_up.as_deref().map(slots),
        "covers_back": covers,
        "later": later,
        "out_of_reach": out,
    })
}

fn slot(case: &Case<'_>, slot: &Slot) -> Value {
    let mut value = match slot.doing {
        Doing::Way(Step::Way(way)) => json!({"do": "way", "way": case.rules.ways[way].named.id}),
        Doing::Way(Step::Cover(cover)) => {
            json!({"do": "cover", "cover": case.layout.covers[cover].named.id})
        }
        Doing::Repair(cause) => {
            let place = case.graph.causes[cause].place;
            json!({"do": "repair", "fault": fault(case, place), "place": part(case, place)})
        }
        Doing::Proof(proof, task) => json!({
            "do": "proof",
            "proof": case.rules.retest[proof].named.id,
            "check": task_id(case, task),
        }),
    };
    value["hands"] = slot.hands.into();
    value["waiting"] = slot.waiting.into();
    value
}

fn fault<'a>(case: &'a Case<'_>, place: Place) -> &'a str {
    &case.rules.faults[place.fault].named.id
}

fn part<'a>(case: &'a Case<'_>, place: Place) -> &'a str {
    &case.layout.parts[place.part].named.id
}
