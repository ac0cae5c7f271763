//! Looks at places that never get wet where one looks.
//!
//! What is wet at a place is what its own leak, and what runs down from above, leave on its outside. A kind
//! of part that leaks into something else, such as the fuel, stays dry there: a look that lists it would
//! count against it.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use crate::ids::{KindId, SpaceId};
use crate::notice::{Notice, Notices, codes};
use crate::rules::base::{Check, Reading, RuleBase, Scope};
use crate::rules::spots::Spots;

/// Gives advice on looks that list a kind of part which leaks elsewhere than most that are looked at.
pub(super) fn check(rules: &RuleBase, spots: &Spots, notices: &mut Notices) {
    let looks = || {
        let checks = rules.checks.enumerated();
        checks.filter_map(|(id, check)| match &check.scope {
            Scope::Parts(kinds) if looks_for_wet(check) => Some((id, kinds)),
            _ => None,
        })
    };
    let Some(usual) = most_common(rules, looks().flat_map(|(_, kinds)| kinds)) else {
        return;
    };
    for (id, kinds) in looks() {
        for &kind in kinds {
            let kind = &rules.kinds[kind];
            if kind.into == usual {
                continue;
            }
            let message = format!(
                "the check `{}` looks whether the place is wet, and `{}` leaks into `{}`: it stays dry where one looks, which would count against it",
                rules.checks[id].named.id, kind.named.id, rules.spaces[kind.into].named.id
            );
            let help = format!(
                "take `{}` out of its `each:`, and give it a check that reads its leak (`leak: here`)",
                kind.named.id
            );
            let notice = Notice::advice(codes::STAYS_DRY, spots.check(id), message);
            notices.push(notice.help(help));
        }
    }
}

fn looks_for_wet(check: &Check) -> bool {
    let mut reads = check.signs.iter().flat_map(|sign| &sign.reads);
    reads.any(|read| read.of == Reading::WetHere)
}

/// The space that most of these kinds leak into; of several the first.
fn most_common<'r>(rules: &RuleBase, kinds: impl Iterator<Item = &'r KindId>) -> Option<SpaceId> {
    let mut counts: BTreeMap<SpaceId, usize> = BTreeMap::new();
    for &kind in kinds {
        *counts.entry(rules.kinds[kind].into).or_default() += 1;
    }
    let most = counts
        .into_iter()
        .max_by_key(|&(space, count)| (count, Reverse(space)));
    most.map(|(space, _)| space)
}
