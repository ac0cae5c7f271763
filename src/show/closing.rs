//! Whether a job can be closed, in words.

use crate::advise::{Case, Closing, OpenPoint};
use crate::graph::Place;
use crate::show::page::Page;
use crate::show::words::{cause_name, place_name};

/// What was confirmed, repaired and proved, and what stays open.
pub fn closing_text(page: &mut Page, case: &Case<'_>, closing: &Closing) {
    for source in &closing.sources {
        let likely = source.faults.iter().filter(|(_, p)| p.get() >= 0.5);
        let likely: Vec<String> = likely
            .map(|(place, p)| format!("{}, {}", cause_name(case, *place), p.percent()))
            .collect();
        let by = if likely.is_empty() {
            String::new()
        } else {
            format!(" ({})", likely.join("; "))
        };
        page.item(
            "·",
            &format!(
                "Repaired in entry {}: {}. It had been a source: {}{by}.",
                source.entry,
                place_name(case, source.part),
                source.leaked.percent()
            ),
        );
    }
    for &(place, p) in &closing.left {
        page.item(
            "·",
            &format!("Confirmed: {} ({}).", named(case, place), p.percent()),
        );
    }
    if !closing.sources.is_empty() {
        page.item(
            "·",
            &format!(
                "The chance that something still leaks: {}.",
                closing.remains.percent()
            ),
        );
    }
    if let Some(account) = &closing.account {
        super::account_text(page, case, account);
    }
    if closing.open.is_empty() {
        return;
    }
    page.heading("Still open");
    for point in &closing.open {
        page.item("□", &open_words(case, point));
    }
}

fn named(case: &Case<'_>, place: Place) -> String {
    format!(
        "{} ({})",
        cause_name(case, place),
        place_name(case, place.part)
    )
}

/// One reason against closing a job, in a sentence.
fn open_words(case: &Case<'_>, point: &OpenPoint) -> String {
    match point {
        OpenPoint::Nothing => {
            "Nothing has been confirmed or repaired in this job, so there is nothing to close."
                .to_owned()
        }
        OpenPoint::NotSure(part, p) => format!(
            "It is not sure that {} was a source: {}.",
            place_name(case, *part),
            p.percent()
        ),
        OpenPoint::NotRepaired(place) => {
            format!("{} is confirmed and not repaired.", named(case, *place))
        }
        OpenPoint::Falls(found) => {
            format!(
                "The retest still shows a leak: {}.",
                case.found[*found].words
            )
        }
        OpenPoint::Lacking(proof) => format!(
            "The retest lacks: {}.",
            case.rules.retest[*proof]
                .named
                .name
                .replace("{limit}", &case.limit_words())
        ),
        OpenPoint::Remains(p) => {
            format!("Another source is still possible ({}).", p.percent())
        }
        OpenPoint::Remainder => "What was found accounts for a part of the loss only.".to_owned(),
        OpenPoint::Blocked(block) => {
            let block = &case.rules.blocks[*block];
            format!("{}: until {}.", block.named.name, block.until)
        }
    }
}
