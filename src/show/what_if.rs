//! Two rankings side by side: as it stands, and as it would stand.

use crate::advise::{Case, RankedLeak, Ranking};
use crate::chance::Chance;
use crate::show::advice::block_words;
use crate::show::page::Page;
use crate::show::words::{cause_name, place_name};

/// Places told.
const PLACES: usize = 7;

/// What a supposed answer would do. `likely`: its chance as things stand, where it is a new one.
pub fn what_if_text(
    page: &mut Page,
    (case, before): (&Case<'_>, &Ranking),
    (changed, after): (&Case<'_>, &Ranking),
    supposed: &[String],
    likely: Option<Chance>,
) {
    page.heading(&format!("If it were so: {}", supposed.join("; ")));
    if let Some(likely) = likely {
        page.para(&format!(
            "As things stand, an answer like that has {}.",
            likely.percent()
        ));
    }
    page.item(
        &format!("{:>11} → {:<11}", "now", "then"),
        "place that leaks",
    );
    let now = |leak: &RankedLeak| {
        let same = before.leaks.iter().find(|other| other.part == leak.part);
        same.map_or_else(Chance::default, |other| other.probability)
    };
    let mut told: Vec<&RankedLeak> = after.leaks.iter().filter(|leak| !leak.apart).collect();
    let most = |leak: &RankedLeak| leak.probability.get().max(now(leak).get());
    told.sort_by(|a, b| most(b).total_cmp(&most(a)).then(a.part.cmp(&b.part)));
    told.truncate(PLACES);
    told.sort_by(|a, b| {
        let by_then = b.probability.get().total_cmp(&a.probability.get());
        by_then.then(a.part.cmp(&b.part))
    });
    for leak in told {
        let cause = leak.causes.first().map(|&at| &after.causes[at]);
        let cause = cause.map_or("", |cause| cause_name(changed, cause.place));
        page.item(
            &format!(
                "{:>11} → {:<11}",
                now(leak).percent(),
                leak.probability.percent()
            ),
            &format!("{} ({cause})", place_name(case, leak.part)),
        );
    }
    match (before.first(), after.first()) {
        (Some(one), Some(other)) if one.place == other.place => page.para(&format!(
            "{}, {}, still leads: {} → {}.",
            place_name(case, one.place.part),
            cause_name(case, one.place),
            one.probability.percent(),
            other.probability.percent()
        )),
        (Some(one), Some(other)) => page.para(&format!(
            "The lead would go from {} ({}) to {} ({}).",
            place_name(case, one.place.part),
            cause_name(case, one.place),
            place_name(changed, other.place.part),
            cause_name(changed, other.place)
        )),
        _ => {}
    }
    let new = changed
        .blocks
        .iter()
        .filter(|block| !case.blocks.contains(block));
    for block in new {
        page.block(&block_words(changed, *block));
    }
}
