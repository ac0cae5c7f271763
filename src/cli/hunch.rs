//! `hunch`: how a hunch stands, and whether to act on it.

use crate::advise::{Case, Hunch, Suspect};
use crate::cli::Desk;
use crate::cli::args::{Args, HunchArgs};
use crate::cli::failure::Failure;
use crate::cli::world::{World, case_and_words};
use crate::job::{Unclear, find_suspect};
use crate::show::{hunch_text, json, suspect_id, suspect_name};

/// So many things that loose words fit are listed.
const LISTED: usize = 15;

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &HunchArgs) -> Result<bool, Failure> {
    let world = World::load(args, desk.surroundings)?;
    let surroundings = desk.surroundings;
    let (named, words) = case_and_words(&of.words, &of.with);
    if words.is_empty() {
        return Err(Failure::usage(
            "what do you suspect? Name FAULT@PLACE, @PLACE, or say it in plain words after the job file",
        ));
    }
    world.with_case(surroundings, &named, |case| {
        let suspect = chosen(desk, case, &words.join(" "), args.json)?;
        let hunch = Hunch::of(case, suspect, of.full)?;
        if args.json {
            desk.json(&json::hunch(case, &hunch))?;
        } else {
            let mut page = desk.page();
            hunch_text(&mut page, case, &hunch, of.full);
            desk.put(page.text())?;
        }
        Ok(true)
    })
}

/// What the words name. On a terminal the user is asked where they fit several things.
fn chosen(
    desk: &mut Desk<'_>,
    case: &Case<'_>,
    typed: &str,
    for_scripts: bool,
) -> Result<Suspect, Failure> {
    let fits = match find_suspect(case.rules, case.layout, &case.graph, typed) {
        Ok(suspect) => return Ok(suspect),
        Err(Unclear::Several { fits, .. })
            if desk.surroundings.typing && !for_scripts && fits.len() <= LISTED =>
        {
            fits
        }
        Err(unclear) => return Err(told(case, &unclear)),
    };
    let mut page = desk.page();
    page.para("Which one do you mean? Type its number; Enter leaves it.");
    for (at, &fit) in fits.iter().enumerate() {
        page.item(&format!("{})", at + 1), &suspect_name(case, fit));
    }
    desk.put(page.text())?;
    let mut line = String::new();
    desk.input.read_line(&mut line)?;
    let number = line.trim().parse::<usize>().ok();
    number
        .and_then(|number| number.checked_sub(1))
        .and_then(|at| fits.get(at).copied())
        .ok_or_else(|| Failure::usage("nothing chosen"))
}

/// What the words name; several things are an error that lists them.
pub(super) fn suspect_named(case: &Case<'_>, typed: &str) -> Result<Suspect, Failure> {
    find_suspect(case.rules, case.layout, &case.graph, typed).map_err(|of| told(case, &of))
}

/// What is unclear, with the things to choose from as they are typed.
fn told(case: &Case<'_>, unclear: &Unclear) -> Failure {
    let Unclear::Several { fits, .. } = unclear else {
        return Failure::usage(unclear.to_string());
    };
    let mut lines = vec![format!("{unclear}; name one of them:")];
    for &fit in fits.iter().take(LISTED) {
        lines.push(format!(
            "  {}: {}",
            suspect_id(case, fit),
            suspect_name(case, fit)
        ));
    }
    if fits.len() > LISTED {
        lines.push(format!(
            "  and {} more; say more of it",
            fits.len() - LISTED
        ));
    }
    Failure::usage(lines.join("\n"))
}
