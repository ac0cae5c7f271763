//! What was found against what was lost, in words.

use crate::advise::{Account, Case};
use crate::measure::balance::Account as Accounted;
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
        "Found against lost ({}; gauge log of entry {}): {} {}",
        listed(&places),
        account.entry,
        account.balance.notes.join(" "),
        weighed(account)
    ));
}

/// What the account does to the beliefs. It gives no advice of its own: whether to look on is the
/// verdict's to say.
fn weighed(account: &Account) -> &'static str {
    match (account.evidence_since, account.balance.account) {
        (None, _) => {
            "It counts as evidence on other leaks once a source that the gauge saw is confirmed."
        }
        (Some(_), Accounted::Part { .. }) => {
            "That speaks for another leak that this gauge could not see. The chances above count it in, by the worst of such leaks: rates of several are not added."
        }
        (Some(_), Accounted::For) => {
            "That speaks against another leak that this gauge could not see; the chances above count it in."
        }
        (Some(_), Accounted::MoreThan) => "The chances above count it in.",
    }
}
