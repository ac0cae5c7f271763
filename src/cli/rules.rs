//! `rules review`: every problem at its line. `rules show`: the rule base, or one thing of it.

use serde_json::{Value, json};

use crate::cli::Desk;
use crate::cli::args::{Args, RulesArgs, RulesCommand};
use crate::cli::failure::Failure;
use crate::cli::rules_tables;
use crate::cli::world::{World, load_rules, rendered};
use crate::rules::RuleBase;
use crate::rules::base::{Answering, Check, Fault, Reason, Repeats, Scope, Sign};
use crate::rules::suggest::closest;
use crate::show::{Page, anywhere, source_words, time_text};
use crate::train::review as review_of;

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &RulesArgs) -> Result<bool, Failure> {
    match &of.what {
        RulesCommand::Review => review(desk, args),
        RulesCommand::Twins(twins) => super::twins::show(desk, args, twins),
        RulesCommand::Drill(drill) => super::drill::drill(desk, args, drill),
        RulesCommand::Show { name } => show(desk, args, name.as_deref()),
    }
}

fn review(desk: &mut Desk<'_>, args: &Args) -> Result<bool, Failure> {
    let loaded = load_rules(args);
    let notices = review_of(&loaded);
    if args.rules.as_ref().is_some_and(|folder| !folder.is_dir()) {
        let text = rendered(&notices, &loaded.sources, desk.surroundings);
        return Err(Failure::Told(text.trim_end().to_owned()));
    }
    if args.json {
        let views = notices.views(&loaded.sources);
        desk.json(&json!({"errors": notices.errors(), "notices": views}))?;
    } else {
        let text = rendered(&notices, &loaded.sources, desk.surroundings);
        desk.put(&text)?;
    }
    Ok(notices.errors() == 0)
}

fn show(desk: &mut Desk<'_>, args: &Args, name: Option<&str>) -> Result<bool, Failure> {
    let world = World::load(args, desk.surroundings)?;
    let rules = world.rules()?;
    let mut page = desk.page();
    let Some(name) = name else {
        if args.json {
            let ids = |names: Vec<&String>| names.into_iter().cloned().collect::<Vec<_>>();
            desk.json(&json!({
                "conditions": ids(rules.conditions.iter().map(|of| &of.named.id).collect()),
                "parts": ids(rules.kinds.iter().map(|of| &of.named.id).collect()),
                "faults": rules.faults.iter().filter(|fault| !fault.other).map(|fault| fault_id(rules, fault)).collect::<Vec<_>>(),
                "checks": ids(rules.checks.iter().map(|of| &of.named.id).collect()),
                "layouts": ids(world.loaded.layouts.iter().map(|of| &of.named.id).collect()),
            }))?;
            return Ok(true);
        }
        overview(&mut page, rules);
        desk.put(page.text())?;
        return Ok(true);
    };
    if let Some(rows) = rules_tables::rows(rules, name) {
        if args.json {
            desk.json(&rules_tables::as_json(name, &rows))?;
        } else {
            rules_tables::text(&mut page, name, &rows);
            desk.put(page.text())?;
        }
        return Ok(true);
    }
    let unknown = || {
        let section = rules_tables::section_of(rules, name);
        let help = section.map_or_else(
            || {
                let near = closest(name, rules_tables::SECTIONS.into_iter());
                near.map(|near| format!("Did you mean `{near}`? "))
            },
            |section| Some(format!("`seepwise rules show {section}` names it. ")),
        );
        Failure::usage(format!(
            "there is no part, fault, check or condition `{name}`. {}`seepwise rules show` lists them, `seepwise rules show SECTION` the ids of {}",
            help.unwrap_or_default(),
            rules_tables::SECTIONS.join(", ")
        ))
    };
    if args.json {
        desk.json(&one_json(rules, name).ok_or_else(unknown)?)?;
        return Ok(true);
    }
    if !one(&mut page, rules, name) {
        return Err(unknown());
    }
    desk.put(page.text())?;
    Ok(true)
}

fn overview(page: &mut Page, rules: &RuleBase) {
    page.para(&rules.about);
    let named = rules.faults.iter().filter(|fault| !fault.other).count();
    page.para(&format!(
        "{} kinds of part, {named} faults, {} conditions, {} checks.",
        rules.kinds.len(),
        rules.conditions.len(),
        rules.checks.len()
    ));
    page.heading("Strengths");
    for (word, chance) in &rules.strengths {
        page.item("·", &format!("{word}: {} %", figure(chance * 100.0)));
    }
    page.heading("How waiting counts against work");
    page.para("One minute, in hundredths of a minute of work. What takes days counts little more than a night: the vehicle is in use.");
    for (word, counts) in &rules.policy.waiting_counts {
        page.item("·", &format!("{word}: {} %", figure(counts * 100.0)));
    }
    page.heading("Conditions");
    for condition in &rules.conditions {
        page.item(
            "·",
            &format!("{}: {}", condition.named.id, condition.named.name),
        );
    }
    page.heading("Kinds of part and their faults");
    for kind in &rules.kinds {
        let faults: Vec<&str> = kind
            .faults
            .iter()
            .filter(|&&fault| !rules.faults[fault].other)
            .map(|&fault| rules.faults[fault].named.id.as_str())
            .collect();
        page.item(
            "·",
            &format!(
                "{} ({}): {}",
                kind.named.id,
                kind.named.name,
                faults.join(", ")
            ),
        );
    }
    page.heading("Checks");
    for check in &rules.checks {
        let name = anywhere(&check.named.name);
        page.item("·", &format!("{}: {name}", check.named.id));
    }
}

/// Shows whatever bears this name; whether anything does.
fn one(page: &mut Page, rules: &RuleBase, name: &str) -> bool {
    let mut any = false;
    for condition in rules
        .conditions
        .iter()
        .filter(|condition| condition.named.id == name)
    {
        any = true;
        page.heading(&format!("Condition: {}", condition.named.name));
        page.para(&format!(
            "Before any complaint: {} %. {}",
            figure(condition.base.otherwise * 100.0),
            condition.remedy
        ));
        reason(page, &condition.reason);
    }
    for kind in rules.kinds.iter().filter(|kind| kind.named.id == name) {
        any = true;
        page.heading(&format!("Kind of part: {}", kind.named.name));
        for &id in &kind.faults {
            fault(page, rules, &rules.faults[id]);
        }
    }
    for of in rules
        .faults
        .iter()
        .filter(|of| of.named.id == name || fault_id(rules, of) == name)
    {
        any = true;
        fault(page, rules, of);
    }
    for check in rules.checks.iter().filter(|check| check.named.id == name) {
        any = true;
        check_text(page, rules, check);
    }
    any
}

fn fault(page: &mut Page, rules: &RuleBase, fault: &Fault) {
    page.heading(&format!(
        "{}  [{}]",
        fault.named.name,
        fault_id(rules, fault)
    ));
    let leaks: Vec<String> = fault
        .leaks
        .iter()
        .map(|&(kind, level, chance)| {
            format!(
                "{} {} {} %",
                rules.levels[level].named.name,
                rules.leak_kinds[kind].named.name,
                figure(chance * 100.0)
            )
        })
        .collect();
    page.para(&format!(
        "Before any complaint {} % for one part. Once there it is {}.",
        figure(fault.base.otherwise * 100.0),
        leaks.join(", ")
    ));
    for text in [&fault.shows, &fault.repair] {
        if !text.is_empty() {
            page.para(text);
        }
    }
    reason(page, &fault.reason);
}

fn check_text(page: &mut Page, rules: &RuleBase, check: &Check) {
    let name = anywhere(&check.named.name);
    page.heading(&format!("{name}  [{}]", check.named.id));
    page.para(&anywhere(&check.ask));
    for (number, step) in check.how.iter().enumerate() {
        page.item(&format!("{}.", number + 1), &anywhere(step));
    }
    for sign in &check.signs {
        page.para(&format!(
            "{}: {}",
            sign.named.id,
            anywhere(&sign.named.name)
        ));
        for (answer, background) in sign.answers.iter().zip(&sign.background.otherwise) {
            page.item(
                "·",
                &format!(
                    "{}: {} ({} % when nothing is wrong here)",
                    answer.id,
                    answer.name,
                    figure(background * 100.0)
                ),
            );
        }
    }
    if let Scope::Sweep(_) = check.scope {
        page.para("PLACE=answer for the highest place; the first answer by itself goes for all:");
        for answer in asked(rules, check).iter().flat_map(|sign| &sign.answers) {
            page.item("·", &format!("{}: {}", answer.id, answer.name));
        }
    }
    if let Answering::Choice(choices) = &check.answering {
        page.para(
            "In one word, the first that fits; it says of all lines above it that they do not:",
        );
        for choice in choices {
            page.item("·", &format!("{}: {}", choice.named.id, choice.named.name));
        }
    }
    page.aside(&format!("In a job file: {}", entry_form(rules, check)));
    if let Repeats::Independent { after } = check.repeats {
        let between = if after > 0.0 {
            format!(", {} later", time_text(after))
        } else {
            String::new()
        };
        page.aside(&format!(
            "Done again{between}, it counts beside the earlier time: add `again: yes`."
        ));
    }
    for &caution in &check.cautions {
        page.caution(&anywhere(&rules.cautions[caution].full));
    }
    reason(page, &check.reason);
}

/// What a check asks for: its signs; of a look over a zone the first of those at a place.
pub(super) fn asked<'r>(rules: &'r RuleBase, check: &'r Check) -> &'r [Sign] {
    match check.scope {
        Scope::Sweep(swept) => rules.checks[swept].signs.get(..1).unwrap_or_default(),
        Scope::Vehicle | Scope::Parts(_) => &check.signs,
    }
}

/// How an answer to a check is written in a job file.
fn entry_form(rules: &RuleBase, check: &Check) -> String {
    let (at, place) = match check.scope {
        Scope::Vehicle => ("", ""),
        Scope::Parts(_) => (", at: PLACE", ""),
        Scope::Sweep(_) => (", at: ZONE", "PLACE="),
    };
    let signs = asked(rules, check);
    let last = |sign: &Sign| {
        let answer = sign.answers.last().map_or("", |answer| answer.id.as_str());
        quoted(answer)
    };
    let answer = match (&check.answering, signs) {
        (Answering::Choice(choices), _) if !choices.is_empty() => quoted(&choices[0].named.id),
        (_, [one]) => format!("{place}{}", last(one)),
        (_, several) => {
            let each = several.iter();
            let each = each.map(|sign| format!("{}: {}", sign.named.id, last(sign)));
            format!("{{{}}}", each.collect::<Vec<_>>().join(", "))
        }
    };
    format!("- {{check: {}{at}, answer: {answer}}}", check.named.id)
}

/// A word that YAML would take for a truth value is put in quotes.
fn quoted(id: &str) -> String {
    if ["yes", "no", "on", "off", "true", "false"].contains(&id) {
        format!("\"{id}\"")
    } else {
        id.to_owned()
    }
}

/// One thing by its name, for scripts; none if nothing is called so.
fn one_json(rules: &RuleBase, name: &str) -> Option<Value> {
    let mut found = serde_json::Map::new();
    let conditions = rules.conditions.iter();
    for of in conditions.filter(|of| of.named.id == name) {
        let told = json!({"condition": of.named.id, "name": of.named.name, "base": of.base.otherwise, "remedy": of.remedy, "because": &*of.reason.because});
        found.insert("condition".to_owned(), told);
    }
    for kind in rules.kinds.iter().filter(|kind| kind.named.id == name) {
        let faults = kind
            .faults
            .iter()
            .map(|&id| fault_id(rules, &rules.faults[id]));
        let told = json!({"part": kind.named.id, "name": kind.named.name, "faults": faults.collect::<Vec<_>>()});
        found.insert("part".to_owned(), told);
    }
    let faults = rules.faults.iter();
    let faults: Vec<Value> = faults
        .filter(|of| of.named.id == name || fault_id(rules, of) == name)
        .map(|of| json!({"fault": fault_id(rules, of), "name": of.named.name, "base": of.base.otherwise, "shows": of.shows, "repair": of.repair, "because": &*of.reason.because}))
        .collect();
    if !faults.is_empty() {
        found.insert("faults".to_owned(), Value::Array(faults));
    }
    for check in rules.checks.iter().filter(|check| check.named.id == name) {
        let answers = |sign: &Sign| -> Vec<Value> {
            let each = sign.answers.iter().zip(&sign.background.otherwise);
            each.map(|(answer, background)| json!({"answer": answer.id, "name": answer.name, "background": background}))
                .collect()
        };
        let signs: Vec<Value> = (asked(rules, check).iter())
            .map(|sign| json!({"sign": sign.named.id, "name": anywhere(&sign.named.name), "answers": answers(sign)}))
            .collect();
        let choices: Vec<Value> = match &check.answering {
            Answering::Each => Vec::new(),
            Answering::Choice(choices) => (choices.iter())
                .map(|choice| json!({"choice": choice.named.id, "name": choice.named.name}))
                .collect(),
        };
        let told = json!({
            "check": check.named.id,
            "name": anywhere(&check.named.name),
            "ask": anywhere(&check.ask),
            "how": check.how.iter().map(|step| anywhere(step)).collect::<Vec<_>>(),
            "signs": signs,
            "choices": choices,
            "entry": entry_form(rules, check),
            "because": &*check.reason.because,
        });
        found.insert("check".to_owned(), told);
    }
    (!found.is_empty()).then_some(Value::Object(found))
}

fn reason(page: &mut Page, reason: &Reason) {
    page.aside(&format!(
        "{} [{}]",
        reason.because,
        source_words(&reason.source)
    ));
}

fn fault_id(rules: &RuleBase, fault: &Fault) -> String {
    format!("{}.{}", rules.kinds[fault.kind].named.id, fault.named.id)
}

fn figure(value: f64) -> String {
    format!("{value:.2}")
        .trim_end_matches('0')
        .trim_end_matches('.')
        .to_owned()
}
