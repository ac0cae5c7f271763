//! `stories`: the joint explanations that carry most of the probability.

use crate::advise::{Belief, Effort, Grain, Stories};
use crate::cli::Desk;
use crate::cli::args::{Args, StoriesArgs};
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::show::{json, stories_text};

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &StoriesArgs) -> Result<bool, Failure> {
    let world = World::load(args, desk.surroundings)?;
    let surroundings = desk.surroundings;
    world.with_case(surroundings, &of.case, |case| {
        let belief = Belief::of(case, &[])?;
        let grain = if of.by_fault {
            Grain::Causes
        } else {
            Grain::Places
        };
        let effort = Effort {
            told: usize::from(of.top),
            ..Effort::default()
        };
        let stories = Stories::of(case, &belief, grain, effort)?;
        if args.json {
            desk.json(&json::stories(case, &stories))?;
        } else {
            let mut page = desk.page();
            stories_text(&mut page, case, &stories);
            desk.put(page.text())?;
        }
        Ok(true)
    })
}
