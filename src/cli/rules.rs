//! `rules review`: every problem at its line. `rules show`: the rule base, or one thing of it.

use serde_json::json;

use crate::cli::Desk;
use crate::cli::args::{Args, RulesArgs, RulesCommand};
use crate::cli::failure::Failure;
use crate::cli::world::{World, load_rules, rendered};
use crate::rules::RuleBase;
use crate::rules::base::{Check, Fault, Reason};
use crate::show::{Page, source_words};
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
    if !one(&mut page, rules, name) {
        return Err(Failure::usage(format!(
            "there is no part, fault, check or condition `{name}`; `seepwise rules show` lists them"
        )));
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
        page.para(&format!("{}:", sign.named.name));
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
    for &caution in &check.cautions {
        page.caution(&anywhere(&rules.cautions[caution].full));
    }
    reason(page, &check.reason);
}

/// A text of the rules where no vehicle is named.
fn anywhere(text: &str) -> String {
    text.replace("{place}", "the place")
        .replace("{zone}", "the zone")
        .replace("{limit}", "the limit")
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
