//! `graph`: the causal graph for other software.

use crate::cli::Desk;
use crate::cli::args::{Args, Format, GraphArgs};
use crate::cli::failure::Failure;
use crate::cli::world::{World, job_problems, read_job};
use crate::graph::export::{to_bif, to_dot, to_json};
use crate::job::JobFile;

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &GraphArgs) -> Result<bool, Failure> {
    let world = World::load(args, desk.surroundings)?;
    let (vehicle, job) = match (&of.job, &of.layout) {
        (Some(path), _) => {
            let job = read_job(path, desk.surroundings)?;
            (world.vehicle(&job.layout)?, job)
        }
        (None, layout) => {
            let layout = layout.clone().unwrap_or_default();
            let vehicle = world.vehicle(&layout)?;
            let job = JobFile {
                layout,
                ..JobFile::default()
            };
            (vehicle, job)
        }
    };
    let case = vehicle
        .case(&job, world.waiting_counts(None)?)
        .map_err(|found| job_problems(&found, of.job.as_deref(), desk.surroundings))?;
    let (graph, rules, layout) = (&*case.graph, vehicle.rules, vehicle.layout);
    match of.format {
        Format::Json => desk.json(&to_json(graph, rules, layout))?,
        Format::Dot => desk.put(&to_dot(graph, rules, layout))?,
        Format::Bif => desk.put(&to_bif(graph, rules, layout))?,
    }
    Ok(true)
}
