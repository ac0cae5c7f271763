//! A review: advice on a rule base that has no errors.
//!
//! In: what was loaded. Out: its notices and the advice, in order of file and line. The limits are
//! the rules' own (`policy: review:`). Time: a few seconds for each layout.

mod apart;
mod arise;
mod care;
mod ease;
mod looks;
mod shares;
mod texts;
mod worth;

use crate::graph::CausalGraph;
use crate::notice::{Notice, Notices, codes};
use crate::rules::Loaded;
use crate::train::TrainError;
use crate::train::readers::Readers;

pub use ease::{Readable, syllables};
pub use shares::{Implied, implied_shares};

/// All notices about a rule base. With errors there is no advice beside what loading gave. A layout
/// that can't be worked out to the end is a notice too.
pub fn review(loaded: &Loaded) -> Notices {
    let mut notices = loaded.notices.clone();
    let Some(rules) = &loaded.rules else {
        return notices;
    };
    let spots = &loaded.spots;
    texts::check(rules, spots, &mut notices);
    care::check(rules, spots, &mut notices);
    looks::check(rules, spots, &mut notices);
    let mut unseparated = apart::Unseparated::default();
    let mut worth = worth::Worth::new(rules);
    for (position, layout) in loaded.layouts.iter().enumerate() {
        arise::check(rules, layout, spots.layout(position), &mut notices);
        let mut work_out = || -> Result<(), TrainError> {
            let graph = CausalGraph::expand(rules, layout)?;
            let readers = Readers::new(&graph);
            let vehicle = (rules, layout, &graph);
            worth.look(rules, &graph, &readers);
            shares::check(vehicle, spots, &mut notices)?;
            unseparated.look(vehicle, &readers)
        };
        if let Err(error) = work_out() {
            let message = format!("`{}` could not be worked out: {error}", layout.named.id);
            let help = "what else is advised holds; mend this and review again";
            let at = spots.layout(position).at;
            notices.push(Notice::advice(codes::NOT_WORKED_OUT, at, message).help(help));
        }
    }
    worth.tell(rules, spots, &mut notices);
    unseparated.tell(rules, spots, &mut notices);
    notices.sort();
    notices
}
