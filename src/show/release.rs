//! Whether a vehicle may leave, in sentences.

use std::collections::BTreeSet;

use crate::advise::{Case, Doing, Kept, Leaving, Release, Retest, Slot, Verdict};
use crate::ids::PartId;
use crate::rules::base::Told;
use crate::show::advice::step_name;
use crate::show::page::Page;
use crate::show::words::{full_name, listed, minutes_text, place_name, task_id, task_name};

/// Minutes in a day.
const DAY: f64 = 1440.0;

/// The decision with its reasons, what fits, and what is told to the driver. `leaves_at` is the
/// time of day at which it is needed, in minutes.
pub fn release_text(page: &mut Page, case: &Case<'_>, release: &Release, leaves_at: Option<f64>) {
    page.heading("Where the search stands");
    page.para(&verdict_words(case, release));
    if !release.timetable.needed.is_empty() {
        timetable_text(page, case, release, leaves_at);
    }
    page.heading(if release.decision.leaves() {
        "Release"
    } else {
        "Do not release"
    });
    for reason in decision_words(case, release) {
        page.para(&reason);
    }
    if release.decision.leaves()
        && let Some(rules) = &case.rules.release
    {
        for (name, told) in [
            ("Before it leaves", &rules.before),
            ("Tell the driver to watch", &rules.watch),
            ("It comes back", &rules.come_back),
            ("Stop driving", &rules.stop),
        ] {
            told_text(page, case, name, told);
        }
    }
}

fn told_text(page: &mut Page, case: &Case<'_>, name: &str, told: &[Told]) {
    let fitting: Vec<&Told> = told
        .iter()
        .filter(|told| case.layout.holds(&told.only, None))
        .collect();
    if fitting.is_empty() {
        return;
    }
    page.heading(name);
    for told in fitting {
        page.item("□", &told.says);
    }
}

/// When to stop looking, in sentences.
pub(super) fn verdict_words(case: &Case<'_>, release: &Release) -> String {
    let names = || {
        let names: Vec<String> = release
            .to_repair
            .iter()
            .map(|&at| full_name(case, at))
            .collect();
        listed(&names)
    };
    match &release.verdict {
        Verdict::Repair { another, .. } => format!(
            "Stop looking and repair. Found: {}. Another source is unlikely ({}).",
            names(),
            another.percent()
        ),
        Verdict::AnotherLikely { another, .. } => format!(
            "Found: {}. Go on looking after the repair, because another source is likely enough ({}).",
            names(),
            another.percent()
        ),
        Verdict::Act { leaks, .. } => format!(
            "Not sure, but likely enough to act on: {} ({}). The checks left cost more time than a repair in vain would.",
            names(),
            leaks.percent()
        ),
        Verdict::NothingLeft {
            best_bits_per_hour, ..
        } => format!(
            "Nothing is left here that is worth asking: the best check tells {best_bits_per_hour:.2} bits an hour. \
             That does not mean that it is tight. It means that this vehicle, as it stands, can't show more today: \
             the days of use with a mark and a card can."
        ),
        Verdict::Retest { remains } => format!(
            "Repaired; the retest is not complete. By what is known so far the chance that something still leaks is {}.",
            remains.percent()
        ),
        Verdict::Watch { remains } => format!(
            "Repaired, and dry so far. The chance that something else still leaks is {}: watch it in use before the job is closed.",
            remains.percent()
        ),
        Verdict::Proved { remains } => format!(
            "Repaired, and the retest is complete{}. The chance that something still leaks all the same is {}.",
            if Retest::of(case).is_some_and(|retest| retest.falls()) {
                "; a leak that it showed was most likely a false alarm"
            } else {
                " and dry"
            },
            remains.percent()
        ),
        Verdict::GoOn if Retest::of(case).is_some_and(|retest| retest.complete()) => {
            "Repaired, and the retest is complete and dry. Another source is likely enough to go on looking when it comes back.".to_owned()
        }
        Verdict::GoOn => match release.next {
            Some((task, _)) => format!(
                "No source is named yet. Go on with: {} [{}].",
                task_name(case, task),
                task_id(case, task)
            ),
            None => "No source is named yet.".to_owned(),
        },
    }
}

fn timetable_text(page: &mut Page, case: &Case<'_>, release: &Release, leaves_at: Option<f64>) {
    let table = &release.timetable;
    let (hands, waiting) = table.hands_and_waiting();
    page.heading("What has to be done before it leaves");
    let mut until = table.minutes();
    for slot in &table.needed {
        let start = leaves_at.map(|at| clock(at - until));
        let start = start.map_or(String::new(), |start| format!(", start by {start}"));
        page.item(
            "□",
            &format!(
                "{}: {}{start}.",
                doing_words(case, slot.doing),
                minutes_text(slot.hands, slot.waiting)
            ),
        );
        until -= slot.minutes();
    }
    page.para(&format!("Together {}.", minutes_text(hands, waiting)));
    for &proof in &table.out_of_reach {
        page.item(
            "!",
            &format!(
                "Can't be done here as it stands: {}.",
                proof_name(case, proof)
            ),
        );
    }
    let Some(left) = release.left else { return };
    let over = table.minutes() - left;
    if over > 0.0 {
        page.para(&format!(
            "You have {}: {} too little. {}",
            minutes_text(left, 0.0),
            minutes_text(over, 0.0),
            what_fits(case, release, left)
        ));
        return;
    }
    let fitting = table.fitting(-over);
    let names = |wanted: bool| {
        let later = table.later.iter().map(|(proof, _)| *proof);
        let these = later.filter(|proof| fitting.contains(proof) == wanted);
        listed(
            &these
                .map(|proof| proof_name(case, proof))
                .collect::<Vec<_>>(),
        )
    };
    let mut text = format!(
        "You have {}: it fits, with {} to spare.",
        minutes_text(left, 0.0),
        minutes_text(-over, 0.0)
    );
    let (now, later) = (names(true), names(false));
    if !now.is_empty() {
        text = format!("{text} There is time as well for {now}.");
    }
    if !later.is_empty() {
        text = format!("{text} Left for when it comes back: {later}.");
    }
    page.para(&text);
}

/// How far one gets in the time.
fn what_fits(case: &Case<'_>, release: &Release, left: f64) -> String {
    let mut at = 0.0;
    let mut last: Option<&Slot> = None;
    let mut first_over = None;
    for slot in &release.timetable.needed {
        at += slot.minutes();
        if at > left {
            first_over = Some(slot);
            break;
        }
        last = Some(slot);
    }
    let over = first_over.map(|slot| doing_words(case, slot.doing));
    match (last, over) {
        (None, Some(over)) => format!("Not even the first step fits: {over}."),
        (Some(last), Some(over)) => format!(
            "It fits up to: {}. It breaks off at: {over}.",
            doing_words(case, last.doing)
        ),
        _ => String::new(),
    }
}

fn decision_words(case: &Case<'_>, release: &Release) -> Vec<String> {
    let unproved = || {
        let lacking = release
            .timetable
            .needed
            .iter()
            .filter_map(|slot| match slot.doing {
                Doing::Proof(proof, _) => Some(proof),
                _ => None,
            });
        let all = lacking.chain(release.timetable.out_of_reach.iter().copied());
        listed(&all.map(|proof| proof_name(case, proof)).collect::<Vec<_>>())
    };
    let text = match &release.decision {
        Leaving::Proved => {
            let later = release.timetable.later.iter();
            let later: Vec<String> = later.map(|(proof, _)| proof_name(case, *proof)).collect();
            let shown = if later.is_empty() {
                "What was repaired has shown that it is tight.".to_owned()
            } else {
                format!(
                    "What was repaired has shown what it must before it leaves. Left for when it comes back: {}.",
                    listed(&later)
                )
            };
            format!("{shown}{}", close_up_words(case, release))
        }
        Leaving::AfterWork => format!(
            "Once the list above is done and shows no leak. If anything there is wet or falls, it stays.{}",
            covers_words(case, release)
        ),
        Leaving::AsItIs if release.to_repair.is_empty() => format!(
            "As it is, with its loss: nothing is found yet, and nothing that is known keeps it back. The search goes on when it comes back.{}",
            close_up_words(case, release)
        ),
        Leaving::AsItIs => format!(
            "As it is, with its leak: the repair and its proof don't fit, so don't begin them now. Nothing that is known keeps it back. Book the repair.{}",
            close_up_words(case, release)
        ),
        Leaving::StaysOpen => match release.timetable.minutes_to_close() {
            Some(minutes) => format!(
                "It is opened up, and closing it as it was takes {}: that does not fit.",
                minutes_text(minutes, 0.0)
            ),
            None => "It is opened up, and as things stand nothing allowed leads to a closed, filled vehicle.".to_owned(),
        },
        Leaving::KeptBack(back) => return kept_words(case, back),
        Leaving::StillLeaks(found) => format!(
            "The retest still shows a leak: {}. It stays until a retest is dry.",
            case.found[*found].words
        ),
        Leaving::NotProved => {
            let parts: BTreeSet<PartId> = case
                .mended()
                .flat_map(|repair| &repair.causes)
                .map(|&at| case.graph.causes[at].place.part)
                .collect();
            let places: Vec<String> = parts
                .iter()
                .map(|&part| place_name(case, part).to_owned())
                .collect();
            let why = if !release.timetable.out_of_reach.is_empty() {
                format!("and that can't be done here as it stands{}", lacking_words(case))
            } else if release.left.is_some() {
                "and that does not fit".to_owned()
            } else {
                "and that is not done yet".to_owned()
            };
            format!(
                "Repaired: {}. A repair that nobody has tried can let go at once: it leaves only after {}, {why}.",
                listed(&places),
                unproved()
            )
        }
        Leaving::RepairFirst => {
            "The source is named. Repair and prove it first. If somebody waits, say how long with --minutes.".to_owned()
        }
        Leaving::FindFirst => {
            "The source is not found yet. Find it first. If somebody waits, say how long with --minutes.".to_owned()
        }
    };
    vec![text]
}

/// What the shop lacks, after a statement that something can't be done.
fn lacking_words(case: &Case<'_>) -> String {
    let lacks = case.shop.lacks.iter();
    let tools: Vec<String> = lacks
        .map(|&tool| case.rules.tools[tool].name.clone())
        .collect();
    if tools.is_empty() {
        String::new()
    } else {
        format!(" (your shop lacks {})", listed(&tools))
    }
}

/// What has to be closed before it leaves as it is.
fn close_up_words(case: &Case<'_>, release: &Release) -> String {
    let slots = release.timetable.close_up.as_deref().unwrap_or_default();
    let steps: Vec<String> = slots
        .iter()
        .map(|slot| doing_words(case, slot.doing))
        .collect();
    let minutes: f64 = slots.iter().map(Slot::minutes).sum();
    let mut words = if steps.is_empty() {
        String::new()
    } else {
        format!(
            " Put back what was taken off, then close it up: {} ({}).",
            listed(&steps),
            minutes_text(minutes, 0.0)
        )
    };
    words.push_str(&covers_words(case, release));
    words
}

/// What has to be put back before it leaves.
fn covers_words(case: &Case<'_>, release: &Release) -> String {
    let covers = release.covers_back(case);
    let covers: Vec<String> = covers
        .iter()
        .map(|&cover| case.layout.covers[cover].named.name.clone())
        .collect();
    if covers.is_empty() {
        String::new()
    } else {
        format!(" Back on before it leaves: {}.", listed(&covers))
    }
}

fn kept_words(case: &Case<'_>, back: &[(usize, Kept)]) -> Vec<String> {
    let rules = case.rules.release.iter();
    let rules: Vec<_> = rules.flat_map(|release| &release.keeps_back).collect();
    let mut texts = Vec::new();
    for (position, kept) in back {
        let because = match kept {
            Kept::Block(block) => case.rules.blocks[*block].says.clone(),
            Kept::Found(found) => format!("{}.", case.found[*found].words),
            Kept::Into(_, chance) => format!("The chance is {}.", chance.percent()),
            Kept::Level(part, chance) => format!(
                "{} pours, with a chance of {}.",
                place_name(case, *part),
                chance.percent()
            ),
            Kept::Loss(lost, most) => format!(
                "It loses about {} a day; {} can be covered.",
                volume(*lost),
                volume(*most)
            ),
        };
        let rule = rules[*position];
        texts.push(format!(
            "{}. {} {}",
            with_capital(&rule.named.name),
            with_capital(&because),
            rule.says
        ));
    }
    texts
}

fn with_capital(text: &str) -> String {
    let mut rest = text.chars();
    let first = rest.next().into_iter().flat_map(char::to_uppercase);
    first.chain(rest).collect()
}

fn volume(ml: f64) -> String {
    if ml >= 1000.0 {
        format!("{:.1} L", ml / 1000.0)
    } else {
        format!("{:.0} mL", (ml / 10.0).round() * 10.0)
    }
}

pub(super) fn proof_name(case: &Case<'_>, proof: usize) -> String {
    let name = &case.rules.retest[proof].named.name;
    name.replace("{limit}", &case.limit_words())
}

/// What a slot is for, in words.
fn doing_words(case: &Case<'_>, doing: Doing) -> String {
    match doing {
        Doing::Way(step) => step_name(case, step),
        Doing::Repair(cause) => format!("repair {}", full_name(case, cause)),
        Doing::Proof(_, task) => task_name(case, task),
    }
}

/// A time of day; the day before is said.
fn clock(minutes: f64) -> String {
    let days = (minutes / DAY).floor();
    let of_day = (minutes - days * DAY).floor();
    let text = format!("{:02.0}:{:02.0}", (of_day / 60.0).floor(), of_day % 60.0);
    if days <= -2.0 {
        format!("{text}, {:.0} days before", -days)
    } else if days < 0.0 {
        format!("{text} the day before")
    } else {
        text
    }
}
