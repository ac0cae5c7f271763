//! `why`: why a cause stands where it stands.

use crate::advise::{Belief, Case, Explanation, Ranking, Suspect};
use crate::cli::Desk;
use crate::cli::args::{Args, WhyArgs};
use crate::cli::failure::Failure;
use crate::cli::hunch::suspect_named;
use crate::cli::world::{World, case_and_words};
use crate::job::find_cause;
use crate::show::{json, why_text};

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &WhyArgs) -> Result<bool, Failure> {
    let world = World::load(args, desk.surroundings)?;
    let surroundings = desk.surroundings;
    let (named, words) = case_and_words(&of.words, &of.with);
    let typed = (!words.is_empty()).then(|| words.join(" "));
    let typed = of.cause.clone().or(typed);
    world.with_case(surroundings, &named, |case| {
        let belief = Belief::of(case, &[])?;
        let ranking = Ranking::of(case, &belief)?;
        let cause = named_cause(case, &ranking, typed.as_deref())?;
        let why = Explanation::of(case, cause)?;
        if args.json {
            desk.json(&json::explanation(case, &why))?;
        } else {
            let mut page = desk.page();
            why_text(&mut page, case, &why);
            desk.put(page.text())?;
        }
        Ok(true)
    })
}

/// The cause that the user names: `fault@place`, a place for its likeliest fault, or nothing for
/// the likeliest of all.
pub(super) fn named_cause(
    case: &Case<'_>,
    ranking: &Ranking,
    typed: Option<&str>,
) -> Result<usize, Failure> {
    let nothing = || Failure::usage("this vehicle has no causes");
    let Some(typed) = typed else {
        return ranking.first().map(|cause| cause.cause).ok_or_else(nothing);
    };
    if let Some((fault, at)) = typed.split_once('@') {
        return Ok(find_cause(
            case.rules,
            case.layout,
            &case.graph,
            fault.trim(),
            Some(at.trim()),
        )?);
    }
    let likeliest_at = |part| {
        let mut there = ranking.causes.iter();
        there
            .find(|cause| cause.place.part == part)
            .map(|cause| cause.cause)
    };
    match suspect_named(case, typed)? {
        Suspect::Cause(cause) => Ok(cause),
        Suspect::Place(part) => likeliest_at(part).ok_or_else(nothing),
    }
}
