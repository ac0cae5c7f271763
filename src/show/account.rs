//! What was found against what was lost, in words.

use crate::advise::{Account, Case};
use crate::show::page::Page;
use crate::show::words::{listed, place_name};

/// Whether the leak that was measured accounts for the loss.
pub fn account_text(page: &mut Page, case: &Case<'_>, account: &Account) {
    let mut places: Vec<String> = Vec::new();
    for &source in &account.sources {
        let name = place_name(case, case.graph.causes[source].place.part).to_owned();
        if !places.contains(&name) {
            places.push(name);
        }
    }
    page.para(&format!(
        "Found against lost ({}; gauge log of entry {}): {}",
        listed(&places),
        account.entry,
        account.balance.notes.join(" ")
    ));
}
