//! How the vehicle stands, in words, and how to say that it stands otherwise.

use crate::advise::Case;
use crate::cli::pick::one_of;
use crate::ids::{FacetId, Id};

/// How many tasks of this vehicle need each facet.
fn needed(case: &Case<'_>, facet: FacetId) -> usize {
    let tasks = case.graph.tasks.iter();
    tasks
        .filter(|task| task.needs.iter().any(|(needed, _)| *needed == facet))
        .count()
}

/// How the vehicle stands: the facets that some check of it needs.
pub(super) fn set_up_text(case: &Case<'_>) -> String {
    let facets = case.rules.facets.enumerated();
    let words: Vec<String> = facets
        .zip(&case.set_up.values)
        .filter(|((id, _), _)| needed(case, *id) > 0)
        .map(|((_, facet), &value)| {
            standing_words(&facet.named.name, &facet.values[value].named.name)
        })
        .collect();
    words.join("; ")
}

/// A facet and its value: "engine off". A value that names its facet stands by itself: "no dye in".
pub(super) fn standing_words(facet: &str, value: &str) -> String {
    // What follows a colon explains the value.
    let value = value.split(':').next().unwrap_or(value);
    if value.contains(facet) {
        value.to_owned()
    } else {
        format!("{facet} {value}")
    }
}

/// What must never be and is so, as the vehicle is said to stand: with the reason.
pub(super) fn never_words(case: &Case<'_>) -> Option<String> {
    let never = case.rules.never.iter();
    let mut broken = never.filter(|never| case.set_up.meets(&never.set_up));
    let never = broken.next()?;
    let words: Vec<String> = (never.set_up.iter())
        .map(|(facet, _)| {
            let of = &case.rules.facets[*facet];
            let value = case.set_up.values[facet.index()];
            standing_words(&of.named.name, &of.values[value].named.name)
        })
        .collect();
    Some(format!(
        "Is that so? {}: {}. The way out of it comes first.",
        words.join(", "),
        never.because
    ))
}

/// An example of how to say that the vehicle stands otherwise, of the facet whose value keeps
/// most checks from being done at once.
pub(super) fn set_up_hint(case: &Case<'_>) -> String {
    let facets = case.rules.facets.enumerated().zip(&case.set_up.values);
    let kept_off = |facet: FacetId, value: usize| {
        let tasks = case.graph.tasks.iter();
        tasks
            .filter(|task| {
                let mut needs = task.needs.iter();
                needs.any(|(needed, values)| *needed == facet && !values.contains(&value))
            })
            .count()
    };
    let most = facets.max_by_key(|((id, _), value)| kept_off(*id, **value));
    let other = most.and_then(|((_, facet), &value)| {
        let mut values = facet.values.iter().enumerate();
        let other = values.find(|(at, _)| *at != value)?.1;
        Some(format!("now {}={}", facet.named.id, other.named.id))
    });
    other.unwrap_or_else(|| "now FACET=VALUE".to_owned())
}

/// What to type after `now`, where what was typed names no facet.
pub(super) fn set_up_refused(case: &Case<'_>, typed: &str) -> String {
    let facets = case.rules.facets.iter();
    let fits: Vec<String> = facets
        .flat_map(|facet| {
            let values = facet.values.iter();
            let same = values.filter(|value| value.named.id == typed.trim());
            same.map(|value| format!("`now {}={}`", facet.named.id, value.named.id))
        })
        .collect();
    let write = if fits.is_empty() {
        let facets = case.rules.facets.iter();
        let known: Vec<String> = facets
            .map(|facet| {
                let values = facet.values.iter().map(|value| value.named.id.as_str());
                format!(
                    "{}={}",
                    facet.named.id,
                    values.collect::<Vec<_>>().join("/")
                )
            })
            .collect();
        format!(
            "Write FACET=VALUE after `now`, for example `{}`. There are {}.",
            set_up_hint(case),
            known.join(", ")
        )
    } else {
        let fits: Vec<&str> = fits.iter().map(String::as_str).collect();
        format!("Write {}.", one_of(&fits))
    };
    format!("{write} Nothing was noted.")
}
