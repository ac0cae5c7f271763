//! `release`: whether a vehicle may leave, and what fits into the time left.

use crate::advise::Release;
use crate::cli::Desk;
use crate::cli::args::{Args, ReleaseArgs};
use crate::cli::failure::Failure;
use crate::cli::world::{World, file_problems, read_job};
use crate::show::{json, release_text};

/// Exit code 1 where it must not leave.
pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &ReleaseArgs) -> Result<bool, Failure> {
    let (left, leaves_at) = time_left(of)?;
    let world = World::load(args, desk.surroundings)?;
    if world.rules()?.release.is_none() {
        return Err(Failure::usage(
            "these rules do not say when a vehicle may leave: add `release:` to them",
        ));
    }
    let job = read_job(&of.job, desk.surroundings)?;
    if job.log.is_empty() {
        return Err(Failure::usage(
            "this job is empty: nothing is known of the vehicle, so nothing can be said of its release",
        ));
    }
    let vehicle = world.vehicle(&job.layout)?;
    let case = vehicle
        .case(&job, world.waiting_counts(of.hurry.as_deref())?)
        .map_err(|found| file_problems(&found, &of.job, desk.surroundings))?;
    let release = Release::of(&case, left)?;
    if args.json {
        desk.json(&json::release(&case, &release))?;
    } else {
        let mut page = desk.page();
        release_text(&mut page, &case, &release, leaves_at);
        desk.put(page.text())?;
    }
    Ok(release.decision.leaves())
}

/// Minutes left, and the time of day at which it is needed, if somebody waits.
fn time_left(of: &ReleaseArgs) -> Result<(Option<f64>, Option<f64>), Failure> {
    if let Some(minutes) = of.minutes {
        return Ok((Some(f64::from(minutes)), None));
    }
    let (Some(needed_by), Some(now)) = (&of.needed_by, &of.now) else {
        return Ok((None, None));
    };
    let (by, from) = (time_of_day(needed_by)?, time_of_day(now)?);
    if by <= from {
        return Err(Failure::usage(format!(
            "{needed_by} is not after {now}: give a later time, or the minutes left with --minutes"
        )));
    }
    Ok((Some(by - from), Some(by)))
}

/// Minutes since midnight of a time written as "17:00".
fn time_of_day(text: &str) -> Result<f64, Failure> {
    let read = |text: &str, below: u16| -> Option<u16> {
        let digits =
            !text.is_empty() && text.len() <= 2 && text.bytes().all(|b| b.is_ascii_digit());
        let value = text.parse().ok().filter(|_| digits)?;
        (value < below).then_some(value)
    };
    text.trim()
        .split_once(':')
        .and_then(|(hours, minutes)| Some((read(hours, 24)?, read(minutes, 60)?)))
        .map(|(hours, minutes)| f64::from(hours * 60 + minutes))
        .ok_or_else(|| Failure::usage(format!("`{text}` is no time of day: write it as 17:00")))
}
