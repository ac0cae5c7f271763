//! A review: advice on a rule base that has no errors.
//!
//! In: what was loaded. Out: its notices and the advice, in order of file and line. The limits are
//! the rules' own (`policy: review:`). Time: a few seconds for each layout.

mod apart;
mod arise;
mod care;
mod ease;
mod shares;
mod texts;
mod worth;

use crate::graph::CausalGraph;
use crate::notice::Notices;
use crate::rules::Loaded;
use crate::train::TrainError;
use crate::train::readers::Readers;

pub use ease::{Readable, syllables};
pub use shares::{Implied, implied_shares};

/// All notices about a rule base. With errors there is no advice beside what loading gave.
///
/// # Errors
/// [`TrainError`] where a layout can't be expanded or is too tangled to work out.
pub fn review(loaded: &Loaded) -> Result<Notices, TrainError> {
    let mut notices = loaded.notices.clone();
    let Some(rules) = &loaded.rules else {
        return Ok(notices);
    };
    let spots = &loaded.spots;
    texts::check(rules, spots, &mut notices);
    care::check(rules, spots, &mut notices);
    let mut unseparated = apart::Unseparated::default();
    let mut worth = worth::Worth::new(rules);
    for (position, layout) in loaded.layouts.iter().enumerate() {
        arise::check(rules, layout, spots.layout(position), &mut notices);
        let graph = CausalGraph::expand(rules, layout)?;
        let readers = Readers::new(&graph);
        let vehicle = (rules, layout, &graph);
        worth.look(rules, &graph, &readers);
        unseparated.look(vehicle, &readers)?;
        shares::check(vehicle, spots, &mut notices)?;
    }
    worth.tell(rules, spots, &mut notices);
    unseparated.tell(rules, spots, &mut notices);
    notices.sort();
    Ok(notices)
}
