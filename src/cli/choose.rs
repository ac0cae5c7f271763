//! Which vehicle? Asked until one is named.

use crate::cli::Desk;
use crate::cli::failure::Failure;
use crate::cli::pick::{Picked, one_of, pick};
use crate::cli::world::World;
use crate::job::JobFile;

/// Asks until a vehicle is named.
pub(super) fn choose_layout(
    desk: &mut Desk<'_>,
    world: &World,
    job: &mut JobFile,
) -> Result<(), Failure> {
    let layouts = &world.loaded.layouts;
    let known: Vec<(String, String)> = layouts
        .iter()
        .map(|layout| (layout.named.id.clone(), layout.named.name.clone()))
        .collect();
    let mut page = desk.page();
    page.heading("Which vehicle? Take the nearest in kind; type its word or number.");
    for (position, (id, name)) in known.iter().enumerate() {
        page.item(&format!("{:>2})", position + 1), &format!("{id}: {name}"));
    }
    desk.put(page.text())?;
    loop {
        desk.put("> ")?;
        let line = desk
            .line()?
            .ok_or_else(|| Failure::usage("no vehicle was named; use --layout"))?;
        let again = match pick(&known, &line) {
            Picked::One(at) => {
                job.layout.clone_from(&known[at].0);
                return Ok(());
            }
            Picked::Several(fitting) => {
                let fitting: Vec<&str> = fitting.iter().map(|&at| known[at].0.as_str()).collect();
                format!("`{line}` fits {}. Type more of it.", one_of(&fitting))
            }
            Picked::Nothing => format!(
                "`{line}` is no vehicle here. Type a word before a colon, or its number, 1 to {}.",
                known.len()
            ),
        };
        let mut page = desk.page();
        page.para(&again);
        desk.put(page.text())?;
    }
}
