//! The next check with its way, cautions and steps; and when to stop.

use std::collections::BTreeSet;

use crate::advise::{Case, Proposal, Proposals, Retest, SUSPECTED, Step, Verdict};
use crate::chance::Chance;
use crate::graph::Task;
use crate::ids::{BlockId, CautionId, KindId, TaskId, ToolId};
use crate::rules::base::Caution;
use crate::show::page::Page;
use crate::show::words::{cause_name, listed, minutes_text, place_name, task_id, task_name};

/// A check that changes where to repair less often than this is not named for it.
const HARDLY_EVER: f64 = 0.01;

/// Cautions that this job has shown in full already.
pub type Shown = BTreeSet<CautionId>;

/// One proposed check in full: why, the way there, cautions, steps, answers.
pub fn proposal_text(
    page: &mut Page,
    case: &Case<'_>,
    proposal: &Proposal,
    shown: &mut Shown,
    with_steps: bool,
) {
    let task = &case.graph.tasks[proposal.asked.task];
    let check = &case.rules.checks[task.check];
    page.heading(&format!(
        "Next: {}  [{}]",
        task_name(case, proposal.asked.task),
        task_id(case, proposal.asked.task)
    ));
    page.para(&format!(
        "{}{}. {}",
        minutes_text(proposal.minutes, proposal.waiting),
        way_price(proposal),
        why_text(case, proposal)
    ));
    for &caution in &proposal.cautions {
        let of: &Caution = &case.rules.cautions[caution];
        let text = if shown.insert(caution) {
            &of.full
        } else {
            &of.short
        };
        page.caution(&text.replace("{limit}", &case.limit_words()));
    }
    if !proposal.spoils.1.is_empty() {
        let spoiled: Vec<String> = proposal
            .spoils
            .1
            .iter()
            .take(3)
            .map(|&task| task_name(case, task))
            .collect();
        page.para(&format!(
            "This destroys what another check could still show: {}.",
            listed(&spoiled)
        ));
    }
    for (position, &step) in proposal.journey.steps.iter().enumerate() {
        let order = if position == 0 { "First" } else { "Then" };
        match step {
            Step::Way(way) => {
                let way = &case.rules.ways[way];
                page.item("→", &format!("{order} {}.", way.named.name));
                if with_steps {
                    way.how.iter().for_each(|line| {
                        page.indented(&line.replace("{limit}", &case.limit_words()));
                    });
                }
            }
            Step::Cover(cover) => page.item(
                "→",
                &format!("{order} take off {}.", case.layout.covers[cover].named.name),
            ),
        }
    }
    if !check.tools.is_empty() {
        let tools: Vec<String> = check
            .tools
            .iter()
            .map(|&tool| case.rules.tools[tool].name.clone())
            .collect();
        page.para(&format!("You need {}.", listed(&tools)));
    }
    if with_steps {
        for (number, line) in check.how.iter().enumerate() {
            page.item(
                &format!("{}.", number + 1),
                &case.filled(&case.graph.tasks[proposal.asked.task], line),
            );
        }
    }
}

fn way_price(proposal: &Proposal) -> String {
    if proposal.journey.steps.is_empty() {
        String::new()
    } else {
        format!(
            ", after {}",
            minutes_text(proposal.journey.hands, proposal.journey.waiting)
        )
    }
}

/// Why this check: what it separates, and its reason.
fn why_text(case: &Case<'_>, proposal: &Proposal) -> String {
    let task = &case.graph.tasks[proposal.asked.task];
    let reason = &case.rules.checks[task.check].reason.because;
    let much = match proposal.gain_bits {
        bits if bits >= 0.5 => "a lot",
        bits if bits >= 0.15 => "something",
        _ => "a little",
    };
    format!(
        "It should tell {much} ({:.2} bits). {reason}",
        proposal.gain_bits
    )
}

/// The best checks and bundles, a line each, without those left out.
pub fn next_page(
    page: &mut Page,
    case: &Case<'_>,
    proposals: &Proposals,
    count: usize,
    left_out: &BTreeSet<TaskId>,
) {
    let waiting = case.waiting_counts * 100.0;
    page.heading("Worth checking next");
    let (turning, asking) = (
        case.rules.policy.turning_minutes,
        case.rules.policy.asking_minutes,
    );
    page.para(&format!(
        "By bits for each minute, the way there included; to turn to a check counts {turning:.0} min, to a question {asking:.0}, a minute of waiting {waiting:.0} %. What takes days counts little more than a night: the vehicle is in use."
    ));
    let kept = |proposal: &&Proposal| !left_out.contains(&proposal.asked.task);
    for proposal in proposals.checks.iter().filter(kept).take(count) {
        let way = way_price(proposal);
        page.item(
            "·",
            &format!(
                "{}  [{}]: {:.2} bits in {}{way}",
                task_name(case, proposal.asked.task),
                task_id(case, proposal.asked.task),
                proposal.gain_bits,
                minutes_text(proposal.minutes, proposal.waiting),
            ),
        );
    }
    if proposals.estimated > 0 {
        page.aside(&format!(
            "{} more checks promise less at a quick look.",
            proposals.estimated
        ));
    }
    let bundles: Vec<_> = proposals
        .bundles
        .iter()
        .filter(|bundle| bundle.tasks.len() > 1)
        .take(3)
        .collect();
    if !bundles.is_empty() {
        page.heading("In one go, for one set-up");
        for bundle in bundles {
            let steps: Vec<String> = bundle
                .journey
                .steps
                .iter()
                .map(|&step| step_name(case, step))
                .collect();
            let tasks: Vec<String> = bundle
                .tasks
                .iter()
                .take(4)
                .map(|&task| task_name(case, task))
                .collect();
            let more = if bundle.tasks.len() > 4 {
                format!(" and {} more", bundle.tasks.len() - 4)
            } else {
                String::new()
            };
            page.item(
                "·",
                &format!(
                    "{}: then {}{more}: up to {:.2} bits in {}",
                    listed(&steps),
                    tasks.join("; "),
                    bundle.gain_bits,
                    minutes_text(bundle.hands, bundle.waiting)
                ),
            );
        }
    }
    for &(task, block) in proposals.blocked.iter().take(3) {
        let block = &case.rules.blocks[block];
        page.block(&format!(
            "{}: not now. {} Until: {}.",
            task_name(case, task),
            block.says,
            block.until
        ));
    }
    lacking_text(page, case, &proposals.lacking);
}

/// What is left out because the shop lacks a tool, tool by tool.
fn lacking_text(page: &mut Page, case: &Case<'_>, lacking: &[(TaskId, ToolId)]) {
    const NAMED: usize = 6;
    let tools: BTreeSet<ToolId> = lacking.iter().map(|(_, tool)| *tool).collect();
    for tool in tools {
        let mut names: Vec<String> = Vec::new();
        let without = lacking.iter().filter(|(_, lacks)| *lacks == tool);
        let mut without: Vec<TaskId> = without.map(|(task, _)| *task).collect();
        // What is done once for the whole vehicle is missed most.
        let at_a_place = |of: &Task| of.part.is_some() || of.zone.is_some();
        without.sort_by_key(|&task| at_a_place(&case.graph.tasks[task]));
        for task in without {
            let of = &case.graph.tasks[task];
            let name = &case.rules.checks[of.check].named.name;
            let anywhere = name
                .replace("{place}", "a place")
                .replace("{zone}", "a zone");
            let name = case.filled(of, &anywhere);
            if !names.contains(&name) {
                names.push(name);
            }
        }
        let more = names.len().saturating_sub(NAMED);
        names.truncate(NAMED);
        let more = (more > 0).then(|| format!("{more} more"));
        names.extend(more);
        page.aside(&format!(
            "Left out, since the shop lacks {}: {}.",
            case.rules.tools[tool].name,
            names.join("; ")
        ));
    }
}

/// A block that is up: what it is, what to keep from, until when.
pub(super) fn block_words(case: &Case<'_>, block: BlockId) -> String {
    let block = &case.rules.blocks[block];
    format!(
        "{}. {} Until: {}.",
        block.named.name, block.says, block.until
    )
}

/// A step on the way to a set-up.
pub(super) fn step_name(case: &Case<'_>, step: Step) -> String {
    match step {
        Step::Way(way) => case.rules.ways[way].named.name.clone(),
        Step::Cover(cover) => format!("take off {}", case.layout.covers[cover].named.name),
    }
}

/// What would still tell most where nothing is worth its time.
fn most_telling_text(case: &Case<'_>, task: TaskId, bits: f64) -> String {
    let of = &case.graph.tasks[task];
    format!(
        "Where it must be found, what tells most whatever it takes is: {} [{}], {bits:.2} bits in {} and the way there.",
        task_name(case, task),
        task_id(case, task),
        minutes_text(of.minutes, of.waiting)
    )
}

/// When to stop, with reasons.
pub fn verdict_text(page: &mut Page, case: &Case<'_>, verdict: &Verdict) {
    let names = |named: &[usize]| {
        let of = |&at: &usize| {
            let place = case.graph.causes[at].place;
            format!(
                "{} ({})",
                place_name(case, place.part),
                cause_name(case, place)
            )
        };
        listed(&named.iter().map(of).collect::<Vec<_>>())
    };
    match verdict {
        Verdict::Repair {
            named,
            another,
            unsettled_by,
        } => {
            page.heading("Stop looking and repair");
            page.para(&format!(
                "Found: {}. Another source is unlikely ({}).{}",
                names(named),
                another.percent(),
                unsettled_text(case, *unsettled_by)
            ));
            for &at in named {
                let place = case.graph.causes[at].place;
                let repair = &case.rules.faults[place.fault].repair;
                if !repair.is_empty() {
                    page.item("·", &format!("{}: {repair}", place_name(case, place.part)));
                }
            }
            let kind = |&at: &usize| case.layout.parts[case.graph.causes[at].place.part].kind;
            let kinds: Vec<KindId> = named.iter().map(kind).collect();
            let proofs: Vec<String> = case
                .rules
                .retest
                .iter()
                .filter(|proof| proof.in_doubt.is_none() && proof.is_due(&kinds))
                .map(|proof| proof.named.name.replace("{limit}", &case.limit_words()))
                .collect();
            if !proofs.is_empty() {
                page.para(&format!("Then prove it: {}, all dry.", listed(&proofs)));
            }
        }
        Verdict::AnotherLikely { named, another } => {
            page.heading("Found, and perhaps not the only one");
            page.para(&format!(
                "Found: {}. Another source is still possible ({}). Repair what is found, then test again; or go on with the next check.",
                names(named),
                another.percent()
            ));
        }
        Verdict::Act {
            named,
            leaks,
            best_bits_per_hour,
        } => {
            page.heading("Likely enough to act on");
            page.para(&format!(
                "Likeliest: {}; that place leaks with a chance of {}. At that chance a repair pays, and the checks left tell little for their time (the best {best_bits_per_hour:.1} bits an hour). Repair it and test again, or go on with the next check.",
                names(named),
                leaks.percent()
            ));
        }
        Verdict::NothingLeft {
            best_bits_per_hour,
            likeliest,
            unnamed,
            most_telling,
        } => {
            page.heading("Nothing left worth checking");
            let best = format!("The best check left tells {best_bits_per_hour:.2} bits an hour.");
            let then = match likeliest {
                Some(chance) if *unnamed => {
                    let follow = if looked_elsewhere(case) {
                        "You followed everything by hand and found nothing: let somebody else do it once more, engine cold and off."
                    } else {
                        "Engine cold and off, follow every pipe, hose and casting by hand, from the tank round and back to it, also what was added later."
                    };
                    format!(
                        "Most likely ({}) it leaks where these rules name no part. {follow} Show this list to your trainer, and note what it was: it is a part that the rules lack.",
                        chance.percent()
                    )
                }
                Some(chance) if chance.get() >= SUSPECTED => "Repair the likeliest, or hand over with this list to your trainer.".to_owned(),
                _ => "No place is likely enough to be opened up. Go through what you entered once more, mark the level cold and read it again after a week of use, or hand over with this list to your trainer.".to_owned(),
            };
            page.para(&format!("{best} {then}"));
            if let Some((task, bits)) = *most_telling {
                page.para(&most_telling_text(case, task, bits));
            }
        }
        Verdict::Retest { remains } => {
            page.heading("Repaired: now prove it");
            page.para(&format!(
                "Whether anything still leaks is not shown yet; by what is known so far the chance is {}.",
                remains.percent()
            ));
        }
        Verdict::Watch { remains } => {
            let alarm = Retest::of(case).is_some_and(|retest| retest.falls());
            page.heading(if alarm {
                "Repaired, and one part of the retest speaks against it"
            } else {
                "Repaired, and dry so far"
            });
            let then = if alarm {
                "too little to go on looking. To be sure, let it go to work"
            } else {
                "too much to close the job. Let it go to work"
            };
            page.para(&format!(
                "The chance that something else still leaks is {}: {then}, and do what is still lacking before you close.",
                remains.percent()
            ));
        }
        Verdict::Proved { remains } => {
            let alarm = Retest::of(case).is_some_and(|retest| retest.falls());
            page.heading("Repaired and proved");
            page.para(&format!(
                "The retest is complete{}. The chance that something still leaks is {}. Close the job.",
                if alarm { "" } else { " and dry" },
                remains.percent()
            ));
        }
        Verdict::GoOn if Retest::of(case).is_some_and(|retest| retest.complete()) => {
            page.heading("The repair held, and something else may leak");
            page.para("What was repaired has shown what it must. What is left speaks for another leak all the same: go on with the next check, or mark the level and let it go to work for a week.");
        }
        Verdict::GoOn => {}
    }
    retest_text(page, case, verdict);
}

/// Whether what the rules name no part for has been looked for.
fn looked_elsewhere(case: &Case<'_>) -> bool {
    let tasks = case.found.iter().filter_map(|found| found.task);
    let mut parts = tasks.filter_map(|task| case.graph.tasks[task].part);
    parts.any(|part| case.rules.kinds[case.layout.parts[part].kind].elsewhere)
}

/// How often a check left would send the repair elsewhere.
fn unsettled_text(case: &Case<'_>, by: Option<(TaskId, Chance)>) -> String {
    match by {
        None => String::new(),
        Some((_, p)) if p.get() < HARDLY_EVER => format!(
            " No check left would send you elsewhere more often than {:.0} time in 100.",
            HARDLY_EVER * 100.0
        ),
        Some((task, p)) => format!(
            " The check that would soonest send you elsewhere, {}, does so {} of the time.",
            task_name(case, task),
            p.percent()
        ),
    }
}

/// What the retest has shown since the repair, and what it still lacks.
fn retest_text(page: &mut Page, case: &Case<'_>, verdict: &Verdict) {
    let Some(retest) = Retest::of(case) else {
        return;
    };
    let (false_alarm, lacking) = match *verdict {
        Verdict::Watch { remains } => (true, retest.lacking_at(case, remains)),
        Verdict::Retest { .. } | Verdict::Proved { .. } => (true, retest.lacking().collect()),
        _ => (false, retest.lacking().collect()),
    };
    for position in retest.showing() {
        let words = &case.found[position].words;
        page.item(
            "!",
            &if false_alarm {
                format!("The retest showed a leak: {words}. By all else that is known it is most likely a false alarm.")
            } else {
                format!("The retest still shows a leak: {words}. What is left is ranked below.")
            },
        );
    }
    if retest.falls() && !false_alarm {
        return;
    }
    for part in lacking {
        let name = &case.rules.retest[part.proof].named.name;
        let name = name.replace("{limit}", &case.limit_words());
        let places: Vec<String> = part
            .at
            .iter()
            .map(|&at| place_name(case, at).to_owned())
            .collect();
        let at = if places.is_empty() {
            String::new()
        } else {
            format!(" at {}", listed(&places))
        };
        let ways: Vec<String> = part
            .lacking
            .iter()
            .take(3)
            .map(|&task| task_id(case, task))
            .collect();
        page.item(
            "□",
            &format!("Still lacking: {name}{at} [{}].", ways.join(" or ")),
        );
    }
}
