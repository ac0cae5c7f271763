//! `layouts`: the vehicles, or the places of one.

use serde_json::json;

use crate::cli::Desk;
use crate::cli::args::{Args, LayoutsArgs};
use crate::cli::failure::Failure;
use crate::cli::world::World;

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
        desk.json(&json!({"layout": layout.named.id, "name": layout.named.name, "parts": parts}))?;
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
                .map(|cover| format!(", behind {}", layout.covers[cover].named.name))
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
    desk.put(page.text())?;
    Ok(true)
}
