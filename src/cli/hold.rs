//! `hold`: a gauge log → the leak, with a drawing.

use serde_json::json;

use crate::cli::Desk;
use crate::cli::args::Args;
use crate::cli::args_measure::HoldArgs;
use crate::cli::failure::Failure;
use crate::cli::hold_plan;
use crate::cli::world::read_file;
use crate::job::{LogFile, Store, expansion, read_gauge_log};
use crate::measure::hold::{AirSpace, Hold, HoldError, HoldResult, Verdict, read_hold};
use crate::measure::units::Preferences;
use crate::notice::{Notice, Notices, codes};
use crate::show::{hold_plot, hold_svg, hold_text};
use crate::source::{SourceId, Sources, Span};

/// Columns that the drawing takes at most.
const WIDEST_PLOT: usize = 78;

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &HoldArgs) -> Result<bool, Failure> {
    let Some(path) = &of.log else {
        return hold_plan::run(desk, args, of);
    };
    let read = read_file(path, desk.surroundings, |file, sources| {
        let log = read_gauge_log(file, sources)?;
        let hold = match hold(of, &log) {
            Ok(hold) => hold,
            Err(usage) => return Ok(Err(usage)),
        };
        match read_hold(&hold) {
            Ok(result) => Ok(Ok((result, log.unit))),
            Err(error) if error.of_the_system() => Ok(Err(error.to_string())),
            Err(error) => Err(misread(file, sources, &log, &error)),
        }
    })?;
    let (result, unit) = read.map_err(Failure::usage)?;
    let likes = of.units.unwrap_or(Preferences {
        pressure: unit,
        ..Preferences::default()
    });
    if let Some(svg) = &of.svg {
        Store::save(svg, &hold_svg(&result, &likes))?;
    }
    if args.json {
        desk.json(&view(&result))?;
    } else {
        let mut page = desk.page();
        hold_text(&mut page, &result, &likes);
        page.blank();
        desk.put(page.text())?;
        // Drawn as it is: wrapping would spoil it.
        let columns = desk.surroundings.width.min(WIDEST_PLOT);
        desk.put(&hold_plot(&result, &likes, columns))?;
    }
    Ok(result.verdict == Verdict::Holds)
}

/// The hold that the log and the arguments describe.
fn hold(of: &HoldArgs, log: &LogFile) -> Result<Hold, String> {
    let air = of
        .air_ml
        .or(of.air_from_draw)
        .unwrap_or(AirSpace::Known(0.0));
    let mut hold = Hold::new(log.readings.clone(), air, of.coolant_litres);
    hold.expansion = expansion(of.glycol.into(), of.percent).map_err(|error| error.to_string())?;
    if let Some(stretch) = of.hose_ml_per_kpa {
        hold.stretch_ml_per_kpa = stretch;
    }
    hold.graduation_kpa = of.step;
    if let (Some(loss), Some(first)) = (of.reported(), log.readings.first()) {
        if let Some(fault) = loss.fault() {
            return Err(fault.to_string());
        }
        // A start at nothing is refused by the hold itself.
        let test_kpa = first.gauge_kpa.max(1.0);
        let matters = loss.leak_that_matters(of.hot.unwrap_or(test_kpa), test_kpa);
        hold.leak_that_matters_ml_per_min = Some(matters);
    }
    Ok(hold)
}

/// Why a log can't be read, at the line of the reading that is wrong, else at its last line.
fn misread(file: SourceId, sources: &Sources, log: &LogFile, error: &HoldError) -> Notices {
    let line = match error.reading() {
        Some(reading) => log.lines.get(reading - 1),
        None => log.lines.last(),
    };
    let end = sources.file(file).text.len();
    let at = line.copied().unwrap_or(Span::new(file, end, end));
    let mut notices = Notices::new();
    notices.push(Notice::error(codes::OUT_OF_RANGE, at, error.to_string()));
    notices
}

fn view(result: &HoldResult) -> serde_json::Value {
    json!({
        "verdict": match result.verdict {
            Verdict::Holds => "holds",
            Verdict::Falls => "falls",
            Verdict::CannotTell => "cannot_tell",
        },
        "leak_ml_per_min": result.leak_ml_per_min,
        "low": result.interval_ml_per_min.0,
        "high": result.interval_ml_per_min.1,
        "settled_after_minute": result.settled_after_minute,
        "wait_until_minute": result.wait_until_minute,
        "smallest_leak_ml_per_min": result.smallest_leak_ml_per_min,
        "notes": result.notes,
    })
}
