//! `graph`: the causal graph for other software.

use crate::cli::Desk;
use crate::cli::args::{Args, Format, GraphArgs};
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::graph::export::{to_bif, to_dot, to_json};

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &GraphArgs) -> Result<bool, Failure> {
    let world = World::load(args, desk.surroundings)?;
    let vehicle = world.vehicle(&of.layout)?;
    let (graph, rules, layout) = (&vehicle.graph, vehicle.rules, vehicle.layout);
    match of.format {
        Format::Json => desk.json(&to_json(graph, rules, layout))?,
        Format::Dot => desk.put(&to_dot(graph, rules, layout))?,
        Format::Bif => desk.put(&to_bif(graph, rules, layout))?,
    }
    Ok(true)
}
