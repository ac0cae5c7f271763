//! `why`: why a cause stands where it stands.

use crate::advise::{Belief, Case, Explanation, Ranking};
use crate::cli::Desk;
use crate::cli::args::{Args, WhyArgs};
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::job::{find_cause, find_part};
use crate::rules::base::Named;
use crate::show::{json, why_text};

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &WhyArgs) -> Result<bool, Failure> {
    let world = World::load(args, desk.surroundings)?;
    let surroundings = desk.surroundings;
    world.with_case(surroundings, &of.case, |case| {
        let belief = Belief::of(case, &[])?;
        let ranking = Ranking::of(case, &belief)?;
        let cause = named_cause(case, &ranking, of.cause.as_deref())?;
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
    if let Ok(part) = find_part(case.layout, typed.trim()) {
        return ranking
            .causes
            .iter()
            .find(|cause| cause.place.part == part)
            .map(|cause| cause.cause)
            .ok_or_else(nothing);
    }
    let cause = find_cause(case.rules, case.layout, &case.graph, typed.trim(), None);
    cause.map_err(|problem| match places_like(case, typed) {
        places if places.is_empty() => problem.into(),
        places => Failure::usage(format!(
            "there is no place or fault `{typed}`; places like it: {}",
            places.join(", ")
        )),
    })
}

/// Places whose id or name holds what was typed.
fn places_like<'a>(case: &Case<'a>, typed: &str) -> Vec<&'a str> {
    const SHOWN: usize = 8;
    let typed = typed.trim().to_lowercase();
    let like =
        |named: &&Named| named.id.contains(&typed) || named.name.to_lowercase().contains(&typed);
    let named = case.layout.parts.iter().map(|part| &part.named);
    let ids = named.filter(like).map(|named| named.id.as_str());
    ids.take(SHOWN).collect()
}
