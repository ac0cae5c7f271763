//! The joint explanations, as text.

use crate::advise::{Case, Stories, Story, Suspect};
use crate::show::page::Page;
use crate::show::words::{full_name, listed, place_name};

/// What explains everything together, the likeliest first, and what tells each from the next.
pub fn stories_text(page: &mut Page, case: &Case<'_>, stories: &Stories) {
    page.heading("What explains it all together");
    page.para("Each line: these lose coolant, and nothing else does.");
    for (position, story) in stories.told.iter().enumerate() {
        page.item(
            &format!("{:>11}", story.probability.percent()),
            &names(case, &story.sources),
        );
        let explains = &stories.explains[position];
        if !explains.is_empty() {
            let words: Vec<String> = explains
                .iter()
                .take(4)
                .map(|&found| case.found[found].words.clone())
                .collect();
            let more = explains.len().saturating_sub(4);
            let more = if more > 0 {
                format!(" and {more} more")
            } else {
                String::new()
            };
            page.item(
                "             ",
                &format!("explains {}{more}", words.join("; ")),
            );
        }
        if let Some(next) = stories.told.get(position + 1) {
            page.item("             ", &apart(case, story, next));
        }
    }
    page.para(&format!(
        "Together {}; the other {} is spread over stories of at most {} each{}.",
        stories.covered.percent(),
        rest(stories),
        stories.others_at_most.percent(),
        if stories.proved {
            ""
        } else {
            " (not all were tried)"
        }
    ));
}

fn rest(stories: &Stories) -> String {
    let left = 1.0 - stories.covered.get();
    crate::chance::Chance::new(left.clamp(0.0, 1.0))
        .map_or_else(|_| String::new(), crate::chance::Chance::percent)
}

fn names(case: &Case<'_>, sources: &[Suspect]) -> String {
    if sources.is_empty() {
        return "nothing leaks: the findings came about otherwise".to_owned();
    }
    let names: Vec<String> = sources.iter().map(|&of| name(case, of)).collect();
    listed(&names)
}

fn name(case: &Case<'_>, suspect: Suspect) -> String {
    match suspect {
        Suspect::Place(part) => place_name(case, part).to_owned(),
        Suspect::Cause(cause) => full_name(case, cause),
    }
}

/// What a story has that the next has not, and the other way round.
fn apart(case: &Case<'_>, story: &Story, next: &Story) -> String {
    let only = |these: &[Suspect], others: &[Suspect]| -> Vec<String> {
        let missing = these.iter().filter(|cause| !others.contains(cause));
        missing.map(|&of| name(case, of)).collect()
    };
    let here = only(&story.sources, &next.sources);
    let there = only(&next.sources, &story.sources);
    match (here.is_empty(), there.is_empty()) {
        (false, false) => format!(
            "told from the next by: {}, or {}?",
            listed(&here),
            listed(&there)
        ),
        (true, _) => format!("told from the next by: {} as well?", listed(&there)),
        (false, true) => format!("told from the next by: {} at all?", listed(&here)),
    }
}
