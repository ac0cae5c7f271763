//! Looks at places that never get wet where one looks.
//!
//! What is wet at a place is what its own leak, and what runs down from above, leave on its outside. A kind
//! of part that leaks into something else, such as the fuel, stays dry there: a look that lists it would
//! count against it.

use crate::ids::{KindId, SpaceId};
use crate::notice::{Notice, Notices, codes};
use crate::rules::base::{Reading, RuleBase, Scope};
use crate::rules::spots::Spots;

/// Gives advice on looks whose kinds of part do not all leak into one space.
pub(super) fn check(rules: &RuleBase, spots: &Spots, notices: &mut Notices) {
    for (id, check) in rules.checks.enumerated() {
        let Scope::Parts(kinds) = &check.scope else {
            continue;
        };
        let mut reads = check.signs.iter().flat_map(|sign| &sign.reads);
        if !reads.any(|read| read.of == Reading::WetHere) {
            continue;
        }
        let Some(usual) = most_common(rules, kinds) else {
            continue;
        };
        for &kind in kinds {
            let kind = &rules.kinds[kind];
            if kind.into == usual {
                continue;
            }
            let message = format!(
                "the check `{}` looks whether the place is wet, and `{}` leaks into `{}`: it stays dry where one looks, which would count against it",
                check.named.id, kind.named.id, rules.spaces[kind.into].named.id
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

/// The space that most of these kinds leak into; of several the first.
fn most_common(rules: &RuleBase, kinds: &[KindId]) -> Option<SpaceId> {
    let count = |space: SpaceId| {
        let mut into = kinds.iter().map(|&kind| rules.kinds[kind].into);
        into.by_ref().filter(|of| *of == space).count()
    };
    let spaces = kinds.iter().map(|&kind| rules.kinds[kind].into);
    spaces.max_by_key(|&space| (count(space), std::cmp::Reverse(space)))
}
