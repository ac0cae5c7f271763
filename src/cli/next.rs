//! `next`: what to check next.

use std::collections::BTreeSet;

use crate::advise::{Proposals, Ranking, Verdict};
use crate::cli::Desk;
use crate::cli::args::{Args, NextArgs};
use crate::cli::failure::Failure;
use crate::cli::world::{World, opens_steps};
use crate::show::{json, later_signs_text, next_page, options_text, proposal_text, verdict_text};

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &NextArgs) -> Result<bool, Failure> {
    let world = World::load(args, desk.surroundings)?;
    let surroundings = desk.surroundings;
    world.with_case(surroundings, &of.case, |case| {
        let (proposals, belief) = Proposals::of(case)?;
        if args.json {
            desk.json(&json::proposals(case, &proposals))?;
            return Ok(true);
        }
        let ranking = Ranking::of(case, &belief)?;
        let verdict = Verdict::of(case, &ranking, &belief, &proposals)?;
        let mut page = desk.page();
        if let Some(entry) = case.closed {
            page.para(&format!(
                "This job was closed in entry {entry}: nothing is due. To go on with it, withdraw that entry."
            ));
            desk.put(page.text())?;
            return Ok(true);
        }
        verdict_text(&mut page, case, &verdict);
        if let Some(best) = proposals.checks.first() {
            let mut shown = BTreeSet::new();
            proposal_text(
                &mut page,
                case,
                best,
                &mut shown,
                opens_steps(world.shop.role),
            );
            options_text(&mut page, case, &best.asked, "");
            later_signs_text(&mut page, case, &best.asked);
        }
        next_page(&mut page, case, &proposals, of.top, &BTreeSet::new());
        desk.put(page.text())?;
        Ok(true)
    })
}
