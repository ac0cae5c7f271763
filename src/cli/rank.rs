//! `rank`: how the causes stand.

use crate::advise::{Belief, Ranking};
use crate::cli::Desk;
use crate::cli::args::{Args, RankArgs};
use crate::cli::failure::Failure;
use crate::cli::stories::joint_text;
use crate::cli::world::World;
use crate::show::{json, ranking_text};

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &RankArgs) -> Result<bool, Failure> {
    let world = World::load(args, desk.surroundings)?;
    let surroundings = desk.surroundings;
    world.with_case(surroundings, &of.case, |case| {
        let belief = Belief::of(case, &[])?;
        let ranking = Ranking::of(case, &belief)?;
        if args.json {
            desk.json(&json::ranking(case, &ranking))?;
        } else {
            let mut page = desk.page();
            ranking_text(&mut page, case, &ranking, of.top);
            if of.long {
                joint_text(&mut page, case, &ranking)?;
            }
            desk.put(page.text())?;
        }
        Ok(true)
    })
}
