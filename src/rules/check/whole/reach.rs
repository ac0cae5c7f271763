//! Which set-ups can be got at, by the ways that the rules declare.
//!
//! A set-up is one value for each facet; they are numbered in mixed radix and searched from the
//! set-up in which a vehicle arrives, passing over those that must never be. Reaching does not
//! look at costs or blocks.

use crate::ids::{FacetId, Id};
use crate::notice::{Notice, codes};
use crate::rules::base::{Check, RuleBase, Scope, SetUpNeeds, Way};
use crate::rules::check::context::Context;
use crate::rules::check::layouts::ReadLayout;
use crate::rules::check::whole::safety::{forbidden, refusal};
use crate::rules::layout::Layout;

/// Most set-ups that are searched; beyond, nothing is said.
const MAX_SET_UPS: usize = 2_000_000;

/// Reports what needs a set-up that no way leads to.
pub fn check(context: &mut Context, rules: &RuleBase, layouts: &[ReadLayout]) {
    let mut reached: Vec<Option<Reach>> = Vec::new();
    for read in layouts {
        let layout = &read.layout;
        let reach = Reach::search(rules, &layout.arrives, |way| layout.holds(&way.only, None));
        if let Some(reach) = &reach {
            of_layout(context, rules, read, reach);
        }
        reached.push(reach);
    }
    let anywhere = if layouts.is_empty() {
        Reach::search(rules, &[], |_| true)
    } else {
        None
    };
    for (id, check) in rules.checks.enumerated() {
        if forbidden(rules, &check.needs).is_some() {
            continue;
        }
        let mut users = layouts
            .iter()
            .zip(&reached)
            .filter(|(read, _)| can_use(&read.layout, check))
            .peekable();
        let can_reach = if layouts.is_empty() {
            anywhere
                .as_ref()
                .is_none_or(|reach| reach.fits(&check.needs))
        } else {
            users.peek().is_none()
                || users
                    .any(|(_, reach)| reach.as_ref().is_none_or(|reach| reach.fits(&check.needs)))
        };
        if !can_reach {
            let at = context.spots.check_needs[id.index()];
            let message = format!("no way leads to the set-up that `{}` needs", check.named.id);
            let help = format!(
                "it needs {}; add a way, or mend what the ways need",
                words(rules, &check.needs)
            );
            context
                .notices
                .push(Notice::error(codes::UNREACHABLE, at, message).help(help));
        }
    }
}

fn can_use(layout: &Layout, check: &Check) -> bool {
    match &check.scope {
        Scope::Vehicle | Scope::Sweep(_) => layout.holds(&check.only, None),
        Scope::Parts(kinds) => {
            let mut parts = layout.parts.enumerated();
            parts
                .any(|(id, part)| kinds.contains(&part.kind) && layout.holds(&check.only, Some(id)))
        }
    }
}

/// Zones and covers of a layout, and the set-up in which it arrives.
fn of_layout(context: &mut Context, rules: &RuleBase, read: &ReadLayout, reach: &Reach) {
    let layout = &read.layout;
    let zones = layout
        .zones
        .enumerated()
        .map(|(id, zone)| (read.zones.span(id), "zone", &zone.named.id, &zone.needs));
    let covers = layout
        .covers
        .enumerated()
        .map(|(id, cover)| (read.covers.span(id), "cover", &cover.named.id, &cover.needs));
    for (at, what, name, needs) in zones.chain(covers).collect::<Vec<_>>() {
        if let Some(never) = forbidden(rules, needs) {
            let message = format!("the {what} `{name}` needs a set-up that must never be");
            let notice = Notice::error(codes::FORBIDDEN_SET_UP, at, message);
            context.notices.push(refusal(context, rules, never, notice));
        } else if !reach.fits(needs) {
            let message = format!("no way leads to the set-up that the {what} `{name}` needs");
            let help = format!("it needs {}", words(rules, needs));
            context
                .notices
                .push(Notice::error(codes::UNREACHABLE, at, message).help(help));
        }
    }
    let mut arrives: SetUpNeeds = rules.facets.ids().map(|facet| (facet, vec![0])).collect();
    for (facet, value) in &layout.arrives {
        arrives[facet.index()].1 = vec![*value];
    }
    if let Some(never) = forbidden(rules, &arrives) {
        let message = "the vehicle arrives in a set-up that must never be";
        let notice = Notice::error(codes::FORBIDDEN_SET_UP, read.arrives, message);
        context.notices.push(refusal(context, rules, never, notice));
    }
}

/// A set-up in words.
fn words(rules: &RuleBase, needs: &SetUpNeeds) -> String {
    let one = |(facet, values): &(FacetId, Vec<usize>)| {
        let facet = &rules.facets[*facet];
        let values: Vec<&str> = values
            .iter()
            .map(|value| facet.values[*value].named.id.as_str())
            .collect();
        format!("{}: {}", facet.named.id, values.join(" or "))
    };
    needs.iter().map(one).collect::<Vec<_>>().join(", ")
}

/// The set-ups that can be got at.
struct Reach {
    /// For each facet: how many values, and what one step is worth in the number of a set-up.
    radix: Vec<(usize, usize)>,
    reached: Vec<usize>,
}

impl Reach {
    /// Searches from a set-up; `None` if there are too many set-ups to search.
    fn search(
        rules: &RuleBase,
        arrives: &[(FacetId, usize)],
        mut usable: impl FnMut(&Way) -> bool,
    ) -> Option<Self> {
        let mut radix = Vec::new();
        let mut count: usize = 1;
        for facet in &rules.facets {
            let values = facet.values.len().max(1);
            radix.push((values, count));
            count = count
                .checked_mul(values)
                .filter(|count| *count <= MAX_SET_UPS)?;
        }
        let mut reach = Self {
            radix,
            reached: Vec::new(),
        };
        let start = arrives
            .iter()
            .map(|(facet, value)| reach.radix[facet.index()].1 * value)
            .sum();
        let ways: Vec<&Way> = rules.ways.iter().filter(|way| usable(way)).collect();
        let mut seen = vec![false; count];
        seen[start] = true;
        reach.reached.push(start);
        let mut next = 0;
        while let Some(&set_up) = reach.reached.get(next) {
            next += 1;
            for way in &ways {
                if !reach.has(set_up, &way.needs) {
                    continue;
                }
                let mut after = set_up;
                for (facet, value) in &way.to {
                    let step = reach.radix[facet.index()].1;
                    after = after - reach.value(set_up, *facet) * step + value * step;
                }
                if !seen[after]
                    && !rules
                        .never
                        .iter()
                        .any(|never| reach.has(after, &never.set_up))
                {
                    seen[after] = true;
                    reach.reached.push(after);
                }
            }
        }
        Some(reach)
    }

    fn value(&self, set_up: usize, facet: FacetId) -> usize {
        let (values, step) = self.radix[facet.index()];
        set_up / step % values
    }

    fn has(&self, set_up: usize, needs: &SetUpNeeds) -> bool {
        needs
            .iter()
            .all(|(facet, values)| values.contains(&self.value(set_up, *facet)))
    }

    /// Whether any set-up that can be got at fits the needs.
    fn fits(&self, needs: &SetUpNeeds) -> bool {
        self.reached.iter().any(|set_up| self.has(*set_up, needs))
    }
}
