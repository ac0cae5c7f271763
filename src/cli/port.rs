//! `port`: pits on hose ports, where the clamp seals, and what to do with the part.

use std::path::Path;

use serde_json::{Value, json};

use crate::cli::Desk;
use crate::cli::args::Args;
use crate::cli::args_measure::PortArgs;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::cli::world::read_file;
use crate::job::Store;
use crate::measure::coolant::{Basis, CoolantError, Glycol, Mixture};
use crate::measure::ports::{
    Examination, Grade, Placement, Port, PortError, bench, leak_at_most, svg, text,
};
use crate::rules::typed;

/// The coolant for which leaks are told: half-and-half, hot.
const HOT_C: f64 = 90.0;

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &PortArgs) -> Result<bool, Failure> {
    let world = World::load(args, desk.surroundings)?;
    let thresholds = world.rules()?.policy.ports;
    let ports = of
        .files
        .iter()
        .map(|path| {
            read_file(path, desk.surroundings, |file, sources| {
                typed::document::<Port>(file, sources, "port")
            })
        })
        .collect::<Result<Vec<_>, _>>()?;
    let sorted = bench(&ports, &thresholds).map_err(|wrong| told(&wrong))?;
    if let Some(path) = &of.svg {
        let [(port, found)] = &sorted[..] else {
            return Err(Failure::usage("--svg draws one port: give one file"));
        };
        save(path, &svg(port, found, &thresholds))?;
    }
    let (viscosity, density) = hot_coolant()?;
    let leak = |found: &Examination, placement: &Placement| {
        leak_at_most(
            &found.land,
            placement.rows.clone(),
            thresholds.hose_follows_mm,
            of.pressure,
            viscosity,
            density,
        )
    };
    let usable = sorted.iter().all(|(_, found)| found.grade != Grade::Scrap);
    if args.json {
        let list: Vec<Value> = sorted
            .iter()
            .map(|(port, found)| view(port, found, &leak))
            .collect();
        desk.json(&json!({"ports": list, "pressure_kpa": of.pressure}))?;
        return Ok(usable);
    }
    let mut page = desk.page();
    if let [(port, found)] = &sorted[..] {
        page.heading(&format!("{}: {}", port.name, found.grade));
        page.para(&sentence(&found.reason.to_string()));
        let clamp = found.clamp();
        page.item(
            "·",
            &format!(
                "clamp: {:.1} to {:.1} mm from the open end; the easiest way under it crosses {:.1} mm of sound land",
                clamp.from_mm, clamp.to_mm, clamp.crossing.sound_mm
            ),
        );
        page.item(
            "·",
            &format!(
                "deepest pit {:.1} mm; {:.0} % of the land is deeper than the hose follows",
                found.deepest_mm,
                found.pitted_share * 100.0
            ),
        );
        if let Some(as_found) = found
            .found
            .as_ref()
            .filter(|found| found.crossing.is_open())
        {
            let rate = leak(found, as_found);
            page.item(
                "·",
                &format!(
                    "as found, its channel lets through at most {} at {} and {}",
                    of.units.rate(rate, rate / 10.0),
                    of.units.pressure(of.pressure, 1.0),
                    of.units.temperature(HOT_C, 1.0)
                ),
            );
        }
        for note in &found.notes {
            page.item("!", &note.to_string());
        }
        page.blank();
        desk.put(page.text())?;
        // Drawn as it is: wrapping would spoil it.
        desk.put(&format!("{}\n", text(port, found, &thresholds)))?;
        let mut page = desk.page();
        page.heading("What to do");
        for step in found.grade.steps() {
            page.item("·", step);
        }
        page.aside("Where the grades part is engineering judgement: no limit for pit depth on a hose port has been published.");
        desk.put(page.text())?;
        return Ok(usable);
    }
    page.heading("Worst first");
    for (port, found) in &sorted {
        page.item(
            "·",
            &format!("{}: {}, {}", port.name, found.grade, found.reason),
        );
    }
    page.aside("Give one file to see its drawing and what to do.");
    desk.put(page.text())?;
    Ok(usable)
}

/// Viscosity in mPa·s and density in kg/m³ of half-and-half, hot.
fn hot_coolant() -> Result<(f64, f64), CoolantError> {
    let half = Mixture::new(Glycol::Ethylene, Basis::Concentrate, 50.0)?;
    Ok((half.viscosity_mpa_s(HOT_C)?, half.density(HOT_C)?))
}

fn save(path: &Path, drawing: &str) -> Result<(), Failure> {
    Ok(Store::save(path, drawing)?)
}

/// With a capital and a full stop.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        format!("{}{}.", first.to_uppercase(), letters.as_str())
    })
}

fn told(wrong: &[(&str, PortError)]) -> Failure {
    let lines: Vec<String> = wrong
        .iter()
        .map(|(port, error)| format!("seepwise: {port}: {error}"))
        .collect();
    Failure::Told(lines.join("\n"))
}

fn view(
    port: &Port,
    found: &Examination,
    leak: &impl Fn(&Examination, &Placement) -> f64,
) -> Value {
    let place = |placement: &Placement| {
        json!({
            "from_mm": placement.from_mm,
            "to_mm": placement.to_mm,
            "sound_mm": placement.crossing.sound_mm,
            "channel": placement.crossing.is_open(),
        })
    };
    json!({
        "name": port.name,
        "grade": found.grade.name(),
        "because": found.reason.to_string(),
        "clamp": place(found.clamp()),
        "as_found": found.found.as_ref().map(place),
        "as_found_leaks_at_most_ml_per_min": found.found.as_ref().map(|placement| leak(found, placement)),
        "deepest_mm": found.deepest_mm,
        "pitted_share": found.pitted_share,
        "notes": found.notes.iter().map(ToString::to_string).collect::<Vec<_>>(),
        "steps": found.grade.steps(),
    })
}
