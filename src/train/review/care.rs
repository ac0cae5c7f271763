//! Cautions that a check or a way should give and does not.
//!
//! A caution says itself which tools and which words call for it (`called_for_by:`). It counts as
//! given if it stands at the check or the way, or comes with a value of the set-up that is needed;
//! some other caution may do in its place (`unless:`).

use crate::ids::{CautionId, ToolId};
use crate::notice::{Notice, Notices, codes};
use crate::rules::base::{Caution, RuleBase, SetUpNeeds};
use crate::rules::spots::Spots;
use crate::source::Span;

/// What is done, with what, and which cautions come with it.
struct Deed<'a> {
    what: String,
    at: Span,
    tools: &'a [ToolId],
    how: &'a [String],
    given: Vec<CautionId>,
}

/// Gives advice on checks and ways.
pub(super) fn check(rules: &RuleBase, spots: &Spots, notices: &mut Notices) {
    let of_set_up = |needs: &SetUpNeeds| -> Vec<CautionId> {
        // Where several values will do, only what all of them bring is certain to be read.
        let single = needs.iter().filter(|(_, values)| values.len() == 1);
        single
            .filter_map(|(facet, values)| rules.facets[*facet].values[values[0]].caution)
            .collect()
    };
    let checks = rules.checks.enumerated().map(|(id, check)| Deed {
        what: format!("the check `{}`", check.named.id),
        at: spots.check(id),
        tools: &check.tools,
        how: &check.how,
        given: [check.cautions.clone(), of_set_up(&check.needs)].concat(),
    });
    let ways = rules.ways.enumerated().map(|(id, way)| {
        let to: SetUpNeeds = (way.to.iter())
            .map(|(facet, value)| (*facet, vec![*value]))
            .collect();
        Deed {
            what: format!("the way `{}`", way.named.id),
            at: spots.way(id),
            tools: &way.tools,
            how: &way.how,
            given: [way.cautions.clone(), of_set_up(&way.needs), of_set_up(&to)].concat(),
        }
    });
    for deed in checks.chain(ways) {
        for (id, caution) in rules.cautions.enumerated() {
            let in_its_place = caution.or_given.iter().any(|id| deed.given.contains(id));
            if in_its_place || deed.given.contains(&id) {
                continue;
            }
            let Some(why) = calls(rules, caution, &deed) else {
                continue;
            };
            let message = format!(
                "{} {why} and does not give the caution `{}`",
                deed.what, caution.named.id
            );
            let help = format!("add it to its `cautions:`: \"{}\"", caution.short);
            let notice = Notice::advice(codes::CAUTION_MISSING, deed.at, message);
            notices.push(notice.help(help));
        }
    }
}

/// Why a deed calls for a caution, if it does.
fn calls(rules: &RuleBase, caution: &Caution, deed: &Deed<'_>) -> Option<String> {
    let tool = deed
        .tools
        .iter()
        .find(|tool| caution.for_tools.contains(tool));
    if let Some(tool) = tool {
        return Some(format!("takes {}", rules.tools[*tool].name));
    }
    let text = deed.how.join(" ").to_lowercase();
    let word = caution.for_words.iter().find(|word| holds(&text, word));
    word.map(|word| format!("speaks of \"{word}\""))
}

/// Whether a text holds a word or phrase, not as a piece of a longer word.
fn holds(text: &str, phrase: &str) -> bool {
    text.match_indices(phrase).any(|(at, _)| {
        let before = text[..at].chars().next_back();
        let after = text[at + phrase.len()..].chars().next();
        let part_of_word = |c: Option<char>| c.is_some_and(char::is_alphanumeric);
        !part_of_word(before) && !part_of_word(after)
    })
}
