//! Findings that fit badly together, as text.

use crate::advise::{Case, Conflict};
use crate::show::page::Page;
use crate::show::words::full_name;

/// Nothing above "ten thousand times" is told more exactly.
const MOST_LOG10: f64 = 4.0;

/// What fits badly, what to check again, and what would follow if it were wrong. Nothing where the
/// findings fit.
pub fn conflict_text(page: &mut Page, case: &Case<'_>, conflict: &Conflict) {
    if !conflict.told() {
        return;
    }
    let mut text = format!(
        "Your findings fit badly together: {} less likely together than if they had nothing to do with each other.",
        times(conflict.log10)
    );
    if let Some(cause) = conflict.rare_cause {
        text = format!(
            "{text} A rare cause would account for that: {}.",
            full_name(case, cause)
        );
    }
    page.para(&text);
    let Some(again) = &conflict.recheck else {
        return;
    };
    let mut text = format!("Check again first: {}.", case.found[again.found].words);
    if let Some((cause, p)) = again.first_without {
        text = format!(
            "{text} Left out, {} leads with {}.",
            full_name(case, cause),
            p.percent()
        );
    }
    if let Some(instead) = &again.instead {
        let leads = instead.first.map_or_else(String::new, |(cause, p)| {
            format!(
                "; then {} leads with {}",
                full_name(case, cause),
                p.percent()
            )
        });
        text = format!(
            "{text} The other findings make `{}` likeliest instead ({}){leads}.",
            instead.answer,
            instead.probability.percent()
        );
    }
    page.item("?", &text);
}

/// "3 times", "over 10000 times".
fn times(log10: f64) -> String {
    if log10 > MOST_LOG10 {
        return format!("over {:.0} times", 10_f64.powf(MOST_LOG10));
    }
    let times = 10_f64.powf(log10);
    if times < 9.95 {
        let shown = format!("{times:.1}");
        format!("{} times", shown.trim_end_matches(".0"))
    } else {
        format!("{times:.0} times")
    }
}
