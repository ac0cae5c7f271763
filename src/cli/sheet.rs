//! `sheet`: the repair sheet of a job.

use crate::advise::{Proposals, RepairSheet};
use crate::cli::Desk;
use crate::cli::args::{Args, SheetArgs};
use crate::cli::failure::Failure;
use crate::cli::world::{World, file_problems, read_job};
use crate::show::{json, repair_sheet_text};

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &SheetArgs) -> Result<bool, Failure> {
    let world = World::load(args, desk.surroundings)?;
    let job = read_job(&of.job, desk.surroundings)?;
    if job.log.is_empty() {
        return Err(Failure::usage(
            "this job is empty: enter what was found first, with `seepwise trace`",
        ));
    }
    let vehicle = world.vehicle(&job.layout)?;
    let case = vehicle
        .case(&job, world.waiting_counts(None)?)
        .map_err(|found| file_problems(&found, &of.job, desk.surroundings))?;
    let sheet = RepairSheet::of(&case)?;
    if args.json {
        desk.json(&json::repair_sheet(&case, &sheet))?;
        return Ok(true);
    }
    let next = if sheet.works.is_empty() {
        Some(Proposals::of(&case)?.0)
    } else {
        None
    };
    let mut page = desk.page();
    repair_sheet_text(&mut page, &case, &sheet, next.as_ref());
    desk.put(page.text())?;
    Ok(true)
}
