//! Things that raise, or run down to, each other in a circle.

use crate::ids::{ConditionId, FaultId, Id, PartId};
use crate::notice::{Notice, codes};
use crate::rules::base::{Raiser, RuleBase};
use crate::rules::check::context::Context;
use crate::rules::check::layouts::ReadLayout;
use crate::source::Span;

/// Circles in a graph given by successors; each is listed in the order of its arrows. At most one
/// is found through each arrow that closes a circle.
fn circles(next: &[Vec<usize>]) -> Vec<Vec<usize>> {
    #[derive(Clone, Copy, PartialEq)]
    enum Seen {
        No,
        OnPath,
        Done,
    }
    let mut seen = vec![Seen::No; next.len()];
    let mut found = Vec::new();
    for start in 0..next.len() {
        if seen[start] != Seen::No {
            continue;
        }
        let mut path = vec![(start, 0)];
        seen[start] = Seen::OnPath;
        while let Some((node, taken)) = path.last_mut() {
            let Some(&to) = next[*node].get(*taken) else {
                seen[*node] = Seen::Done;
                path.pop();
                continue;
            };
            *taken += 1;
            match seen[to] {
                Seen::No => {
                    seen[to] = Seen::OnPath;
                    path.push((to, 0));
                }
                Seen::OnPath => {
                    let from = path.iter().position(|(node, _)| *node == to).unwrap_or(0);
                    found.push(path[from..].iter().map(|(node, _)| *node).collect());
                }
                Seen::Done => {}
            }
        }
    }
    found
}

/// A circle in words: `a → b → a`.
fn round(names: &[String]) -> String {
    let mut words: Vec<&str> = names.iter().map(String::as_str).collect();
    words.extend(names.first().map(String::as_str));
    words.join(" → ")
}

/// Arrows with the spans that state them, numbered by node.
struct Arrows {
    next: Vec<Vec<usize>>,
    spans: Vec<Vec<Span>>,
}

impl Arrows {
    fn new(nodes: usize) -> Self {
        Self {
            next: vec![Vec::new(); nodes],
            spans: vec![Vec::new(); nodes],
        }
    }

    fn add(&mut self, from: usize, to: usize, span: Span) {
        self.next[from].push(to);
        self.spans[from].push(span);
    }

    /// Reports each circle at the statement that closes it, with the others as labels.
    fn report(
        &self,
        context: &mut Context,
        what: &str,
        help: &str,
        name: impl Fn(usize) -> String,
    ) -> bool {
        let found = circles(&self.next);
        for circle in &found {
            let span = |at: usize| {
                let (from, to) = (circle[at], circle[(at + 1) % circle.len()]);
                let position = self.next[from]
                    .iter()
                    .position(|next| *next == to)
                    .unwrap_or(0);
                self.spans[from][position]
            };
            let names: Vec<String> = circle.iter().map(|node| name(*node)).collect();
            let message = format!("{what} in a circle: {}", round(&names));
            let mut notice =
                Notice::error(codes::CYCLE, span(circle.len() - 1), message).help(help);
            for at in 0..circle.len() - 1 {
                notice = notice.label(span(at), "and this");
            }
            context.notices.push(notice);
        }
        !found.is_empty()
    }
}

const BREAK: &str = "leave out one of these links: the weakest, or the one that runs against time";

/// Conditions and faults that raise each other.
pub fn causes(context: &mut Context, rules: &RuleBase, layouts: &[ReadLayout]) {
    let mut conditions = Arrows::new(rules.conditions.len());
    for (to, condition) in rules.conditions.enumerated() {
        for (raise, span) in condition
            .raised_by
            .iter()
            .zip(&context.spots.condition_raises[to.index()])
        {
            if let Raiser::Condition(from) = raise.by {
                conditions.add(from.index(), to.index(), *span);
            }
        }
    }
    let name = |at| {
        rules.conditions[ConditionId::from_index(at)]
            .named
            .id
            .clone()
    };
    conditions.report(context, "conditions raise each other", BREAK, name);
    let mut faults = Arrows::new(rules.faults.len());
    for (to, fault) in rules.faults.enumerated() {
        for (raise, span) in fault
            .raised_by
            .iter()
            .zip(&context.spots.fault_raises[to.index()])
        {
            if let Raiser::Fault(from) = raise.by {
                faults.add(from.index(), to.index(), *span);
            }
        }
    }
    let name = |at| full_name(rules, FaultId::from_index(at));
    if !faults.report(context, "faults raise each other", BREAK, name) {
        for layout in layouts {
            if faults_of_layout(context, rules, layout) {
                // The next layout would only show the same again.
                return;
            }
        }
    }
}

fn full_name(rules: &RuleBase, fault: FaultId) -> String {
    let fault = &rules.faults[fault];
    format!("{}.{}", rules.kinds[fault.kind].named.id, fault.named.id)
}

/// Faults that raise each other over the roles of one layout's parts.
fn faults_of_layout(context: &mut Context, rules: &RuleBase, read: &ReadLayout) -> bool {
    let parts = &read.layout.parts;
    let mut first = Vec::new();
    let mut nodes: Vec<(PartId, FaultId)> = Vec::new();
    for (part, at) in parts.enumerated() {
        first.push(nodes.len());
        nodes.extend(
            rules.kinds[at.kind]
                .faults
                .iter()
                .map(|fault| (part, *fault)),
        );
    }
    let node = |part: PartId, fault: FaultId| {
        let faults = &rules.kinds[parts[part].kind].faults;
        faults
            .iter()
            .position(|known| *known == fault)
            .map(|at| first[part.index()] + at)
    };
    let mut arrows = Arrows::new(nodes.len());
    for (to, (part, fault)) in nodes.iter().enumerate() {
        let fault_here = &rules.faults[*fault];
        for (raise, span) in fault_here
            .raised_by
            .iter()
            .zip(&context.spots.fault_raises[fault.index()])
        {
            let from = match &raise.by {
                Raiser::Condition(_) => None,
                Raiser::Fault(from) => node(*part, *from),
                Raiser::Partner { role, fault } => parts[*part]
                    .joins
                    .iter()
                    .find(|(named, _)| named == role)
                    .and_then(|(_, partner)| {
                        let faults = &rules.kinds[parts[*partner].kind].faults;
                        let found = faults
                            .iter()
                            .find(|id| rules.faults[**id].named.id == *fault)?;
                        node(*partner, *found)
                    }),
            };
            if let Some(from) = from {
                arrows.add(from, to, *span);
            }
        }
    }
    let name = |at: usize| {
        let (part, fault) = nodes[at];
        format!("{}@{}", rules.faults[fault].named.id, parts[part].named.id)
    };
    let what = format!(
        "on the layout `{}` faults raise each other",
        read.layout.named.id
    );
    arrows.report(context, &what, BREAK, name)
}

/// Places that run down to each other.
pub fn trails(context: &mut Context, read: &ReadLayout) {
    let parts = &read.layout.parts;
    let mut arrows = Arrows::new(parts.len());
    for (from, part) in parts.enumerated() {
        for ((to, _), span) in part.runs_down_to.iter().zip(&read.runs[from.index()]) {
            arrows.add(from.index(), to.index(), *span);
        }
    }
    let name = |at| parts[PartId::from_index(at)].named.id.clone();
    arrows.report(
        context,
        "places run down to each other",
        "coolant runs down only: leave one out",
        name,
    );
}

#[cfg(test)]
mod tests {
    use super::{circles, round};

    #[test]
    fn finds_circles_and_only_circles() {
        assert_eq!(
            circles(&[vec![1, 2], vec![2], vec![]]),
            Vec::<Vec<usize>>::new()
        );
        assert_eq!(circles(&[vec![1], vec![2], vec![1]]), vec![vec![1, 2]]);
        assert_eq!(circles(&[vec![0]]), vec![vec![0]]);
        assert_eq!(round(&["a".to_owned(), "b".to_owned()]), "a → b → a");
    }
}
