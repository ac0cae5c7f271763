//! `shop`: what the shop lacks and who works in it, kept once for all jobs.

use serde_json::json;

use crate::cli::Desk;
use crate::cli::args::{Args, ShopArgs};
use crate::cli::failure::Failure;
use crate::cli::world::{World, problems};
use crate::job::{Role, Store};

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &ShopArgs) -> Result<bool, Failure> {
    let world = World::load(args, desk.surroundings)?;
    let mut shop = world.shop.clone();
    let before = shop.clone();
    for tool in &of.lacks {
        if !shop.lacks.contains(tool) {
            shop.lacks.push(tool.clone());
        }
    }
    shop.lacks.retain(|tool| !of.has.contains(tool));
    for cannot in &of.cannot {
        let (facet, value) = cannot.split_once('=').ok_or_else(|| {
            Failure::usage(format!(
                "`{cannot}` is no set-up: write FACET=VALUE, such as lift=raised"
            ))
        })?;
        match shop.cannot.iter_mut().find(|(known, _)| known == facet) {
            Some((_, values)) if values.iter().any(|known| known == value) => {}
            Some((_, values)) => values.push(value.to_owned()),
            None => shop.cannot.push((facet.to_owned(), vec![value.to_owned()])),
        }
    }
    if let Some(role) = &of.role {
        shop.role = match role.as_str() {
            "apprentice" => Role::Apprentice,
            "technician" => Role::Technician,
            "trainer" => Role::Trainer,
            other => {
                return Err(Failure::usage(format!(
                    "there is no role `{other}`; choose apprentice, technician or trainer"
                )));
            }
        };
    }
    // Names are checked before anything is written.
    shop.resolve(world.rules()?)
        .map_err(|found| problems(&found))?;
    if shop != before {
        let path = desk.surroundings.shop.as_ref().ok_or_else(|| {
            Failure::usage("no folder to keep the shop's file in; set SEEPWISE_SHOP to a file")
        })?;
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder)?;
        }
        Store::save(path, &shop.write())?;
    }
    if args.json {
        desk.json(&json!({"role": format!("{:?}", shop.role).to_lowercase(), "lacks": shop.lacks, "cannot": shop.cannot}))?;
        return Ok(true);
    }
    let mut page = desk.page();
    page.heading("This shop");
    page.item(
        "·",
        &format!("works here: {}", format!("{:?}", shop.role).to_lowercase()),
    );
    let lacks = if shop.lacks.is_empty() {
        "nothing".to_owned()
    } else {
        shop.lacks.join(", ")
    };
    page.item("·", &format!("lacks: {lacks}"));
    for (facet, values) in &shop.cannot {
        page.item("·", &format!("cannot make: {facet} {}", values.join(", ")));
    }
    desk.put(page.text())?;
    Ok(true)
}
