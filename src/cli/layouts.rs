//! `layouts`: the vehicles, the places of one, or one place.

use std::collections::BTreeSet;

use serde_json::{Value, json};

use crate::cli::Desk;
use crate::cli::args::{Args, LayoutsArgs};
use crate::cli::failure::Failure;
use crate::cli::layout_checks;
use crate::cli::world::{Vehicle, World};
use crate::ids::{CheckId, CoverId, FaultId, PartId};
use crate::job::find_part;
use crate::rules::Layout;
use crate::rules::base::Scope;
use crate::show::{Page, minutes_text};

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &LayoutsArgs) -> Result<bool, Failure> {
    let world = World::load(args, desk.surroundings)?;
    let mut page = desk.page();
    let Some(id) = &of.layout else {
        if args.json {
            let list: Vec<_> = world
                .loaded
                .layouts
                .iter()
                .map(|layout| json!({"layout": layout.named.id, "name": layout.named.name, "places": layout.parts.len()}))
                .collect();
            desk.json(&json!({"layouts": list}))?;
            return Ok(true);
        }
        for layout in &world.loaded.layouts {
            page.heading(&format!("{}  [{}]", layout.named.name, layout.named.id));
            page.para(&layout.about);
        }
        desk.put(page.text())?;
        return Ok(true);
    };
    let vehicle = world.vehicle(id)?;
    let (rules, layout) = (vehicle.rules, vehicle.layout);
    if of.checks {
        if args.json {
            desk.json(&layout_checks::json(&vehicle))?;
        } else {
            layout_checks::text(&mut page, &vehicle);
            desk.put(page.text())?;
        }
        return Ok(true);
    }
    if let Some(place) = &of.place {
        let part =
            find_part(layout, place).map_err(|problem| Failure::usage(problem.to_string()))?;
        let at = At::of(&vehicle, part);
        if args.json {
            desk.json(&at.json(&vehicle))?;
        } else {
            at.text(&mut page, &vehicle);
            desk.put(page.text())?;
        }
        return Ok(true);
    }
    if args.json {
        let parts: Vec<_> = layout
            .parts
            .iter()
            .map(|part| {
                json!({
                    "place": part.named.id,
                    "name": part.named.name,
                    "kind": rules.kinds[part.kind].named.id,
                    "zone": part.zone.map(|zone| layout.zones[zone].named.id.clone()),
                    "cover": part.cover.map(|cover| layout.covers[cover].named.id.clone()),
                    "height_cm": part.height_cm,
                })
            })
            .collect();
        let covers: Vec<_> = (layout.covers.iter())
            .map(|cover| json!({"cover": cover.named.id, "name": cover.named.name, "minutes": cover.hands}))
            .collect();
        desk.json(&json!({"layout": layout.named.id, "name": layout.named.name, "parts": parts, "covers": covers}))?;
        return Ok(true);
    }
    page.heading(&format!("{}  [{}]", layout.named.name, layout.named.id));
    page.para(&layout.about);
    page.para(&format!(
        "{:.0} L of coolant, {:.0} ml of air above it.",
        layout.coolant_litres, layout.air_space_ml
    ));
    for (zone, at) in layout.zones.enumerated() {
        page.heading(&format!("{}  [{}]", at.named.name, at.named.id));
        for part in layout.parts.iter().filter(|part| part.zone == Some(zone)) {
            let cover = part
                .cover
                .map(|cover| format!(", behind {}", cover_words(layout, cover)))
                .unwrap_or_default();
            page.item(
                "·",
                &format!("{}: {}{cover}", part.named.id, part.named.name),
            );
        }
    }
    page.heading("In no zone");
    for part in layout.parts.iter().filter(|part| part.zone.is_none()) {
        page.item("·", &format!("{}: {}", part.named.id, part.named.name));
    }
    if layout.covers.iter().next().is_some() {
        page.heading("Covers");
        for cover in &layout.covers {
            page.item(
                "·",
                &format!(
                    "{}: {}, {} to take off",
                    cover.named.id,
                    cover.named.name,
                    minutes_text(cover.hands, 0.0)
                ),
            );
        }
    }
    desk.put(page.text())?;
    Ok(true)
}

fn cover_words(layout: &Layout, cover: CoverId) -> String {
    let named = &layout.covers[cover].named;
    format!("{} [{}]", named.name, named.id)
}

/// A place, with what can be wrong there and what can be done about finding out.
struct At {
    part: PartId,
    faults: Vec<FaultId>,
    /// Checks of the place by itself.
    checks: Vec<CheckId>,
    /// Looks over its zone that take it in.
    looks: Vec<CheckId>,
}

impl At {
    fn of(vehicle: &Vehicle<'_>, part: PartId) -> Self {
        let (rules, graph) = (vehicle.rules, &vehicle.graph);
        let causes = graph.causes.iter().filter(|cause| cause.place.part == part);
        let faults = causes.map(|cause| cause.place.fault);
        let here = graph.tasks.iter().filter(|task| task.part == Some(part));
        let checks: BTreeSet<CheckId> = here.map(|task| task.check).collect();
        let zone = vehicle.layout.parts[part].zone;
        let sweeps = (graph.tasks.iter()).filter(|task| task.zone.is_some() && task.zone == zone);
        let takes_in = |check: &CheckId| match rules.checks[*check].scope {
            Scope::Sweep(swept) => checks.contains(&swept),
            _ => false,
        };
        let looks: BTreeSet<CheckId> = sweeps.map(|task| task.check).filter(takes_in).collect();
        Self {
            part,
            faults: faults.filter(|&fault| !rules.faults[fault].other).collect(),
            checks: checks.into_iter().collect(),
            looks: looks.into_iter().collect(),
        }
    }

    fn text(&self, page: &mut Page, vehicle: &Vehicle<'_>) {
        let (rules, layout) = (vehicle.rules, vehicle.layout);
        let part = &layout.parts[self.part];
        page.heading(&format!("{}  [{}]", part.named.name, part.named.id));
        let mut words = vec![format!(
            "Kind of part: {}.",
            rules.kinds[part.kind].named.name
        )];
        if let Some(zone) = part.zone {
            let zone = &layout.zones[zone].named;
            words.push(format!("Zone: {} [{}].", zone.name, zone.id));
        }
        if let Some(cover) = part.cover {
            words.push(format!("Behind {}.", cover_words(layout, cover)));
        }
        let below = part.runs_down_to.iter();
        let below: Vec<String> = below
            .map(|(to, chance)| format!("{} ({:.0} %)", layout.parts[*to].named.id, 100.0 * chance))
            .collect();
        if !below.is_empty() {
            words.push(format!(
                "What leaks here runs down to {}.",
                below.join(", ")
            ));
        }
        page.para(&words.join(" "));
        if self.faults.is_empty() {
            page.para("These rules name no fault there.");
        } else {
            page.heading("What can be wrong there");
        }
        for &fault in &self.faults {
            let named = &rules.faults[fault].named;
            page.item("·", &format!("{}: {}", named.id, named.name));
        }
        if !self.checks.is_empty() {
            page.heading("Checks of this place");
        }
        let name = |check: CheckId| {
            let named = &rules.checks[check].named;
            let name = named
                .name
                .replace("{place}", "this place")
                .replace("{zone}", "its zone");
            (named.id.as_str(), name.replace("{limit}", "the limit"))
        };
        for &check in &self.checks {
            let (id, name) = name(check);
            page.item("·", &format!("{id}@{}: {name}", part.named.id));
        }
        if let Some(zone) = part.zone.filter(|_| !self.looks.is_empty()) {
            page.heading("Looks over its zone");
            for &check in &self.looks {
                let (id, name) = name(check);
                page.item(
                    "·",
                    &format!("{id}@{}: {name}", layout.zones[zone].named.id),
                );
            }
        }
        page.aside("`seepwise rules show NAME` shows a fault or a check.");
    }

    fn json(&self, vehicle: &Vehicle<'_>) -> Value {
        let (rules, layout) = (vehicle.rules, vehicle.layout);
        let part = &layout.parts[self.part];
        let checks = |list: &[CheckId]| -> Vec<&str> {
            let ids = list.iter().map(|&check| &rules.checks[check].named.id[..]);
            ids.collect()
        };
        let below = part.runs_down_to.iter();
        json!({
            "layout": layout.named.id,
            "place": part.named.id,
            "name": part.named.name,
            "kind": rules.kinds[part.kind].named.id,
            "zone": part.zone.map(|zone| layout.zones[zone].named.id.clone()),
            "cover": part.cover.map(|cover| layout.covers[cover].named.id.clone()),
            "runs_down_to": below.map(|(to, chance)| json!({"place": layout.parts[*to].named.id, "chance": chance})).collect::<Vec<_>>(),
            "faults": self.faults.iter().map(|&fault| &rules.faults[fault].named.id[..]).collect::<Vec<_>>(),
            "checks": checks(&self.checks),
            "zone_checks": checks(&self.looks),
        })
    }
}
