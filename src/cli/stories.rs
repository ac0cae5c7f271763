//! `stories`: the joint explanations that carry most of the probability.

use crate::advise::{Belief, Case, Effort, Grain, Ranking, Stories};
use crate::cli::Desk;
use crate::cli::args::{Args, StoriesArgs};
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::show::{Page, json, stories_text};

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

/// What is looked for where the stories stand behind something else: few, and quickly.
const IN_PASSING: Effort = Effort {
    told: 3,
    worlds: 12,
};
/// So likely must a second place be before stories tell more than the ranking.
const SECOND_FROM: f64 = 0.1;

/// The few joint explanations, where more than one place is likely enough for them to matter.
pub(super) fn joint_text(
    page: &mut Page,
    case: &Case<'_>,
    ranking: &Ranking,
) -> Result<(), Failure> {
    let own = ranking.leaks.iter().filter(|leak| !leak.apart);
    let likely = own.filter(|leak| leak.probability.get() >= SECOND_FROM);
    if case.found.is_empty() || likely.count() < 2 {
        return Ok(());
    }
    let belief = Belief::of(case, &[])?;
    let stories = Stories::of(case, &belief, Grain::Places, IN_PASSING)?;
    stories_text(page, case, &stories);
    Ok(())
}
