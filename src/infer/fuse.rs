//! Binary fusion: no clique has to multiply more than two children's messages.
//!
//! In: a rooted tree of cliques. Out: the same with small cliques put between a clique and its
//! children, two by two, smallest unions of separators first (Shenoy 1997, binary join trees).
//! Products of "all children but one" then stand ready in the tree, and no message is divided.
//!
//! Example: a clique with four children on the same separator gets two cliques on that separator
//! for children.

use crate::infer::tree::Clique;

/// Fewest children that are worth fusing.
const MANY: usize = 3;

/// Adds the fusing cliques at the end of `cliques`.
pub(super) fn fuse(cliques: &mut Vec<Clique>, states: &[usize]) {
    for index in 0..cliques.len() {
        if cliques[index].children.len() >= MANY && cliques[index].slots.len() <= 64 {
            fuse_below(cliques, states, index);
        }
    }
}

/// A child or a fused group of children: its separator as a set of the clique's slots.
struct Group {
    top: usize,
    mask: u64,
    size: f64,
    members: usize,
}

fn fuse_below(cliques: &mut Vec<Clique>, states: &[usize], index: usize) {
    let slots = cliques[index].slots.clone();
    let logs: Vec<f64> = slots
        .iter()
        .map(|&slot| (states[slot] as f64).log2())
        .collect();
    let size_of = |mask: u64| -> f64 {
        let inside = logs
            .iter()
            .enumerate()
            .filter(|(bit, _)| mask >> bit & 1 == 1);
        inside.map(|(_, log)| log).sum()
    };
    let mut groups: Vec<Group> = std::mem::take(&mut cliques[index].children)
        .into_iter()
        .map(|child| {
            let separator = &cliques[child].separator;
            let bits = slots
                .iter()
                .enumerate()
                .filter(|(_, slot)| separator.contains(slot));
            let mask = bits.fold(0, |mask, (bit, _)| mask | 1 << bit);
            let size = size_of(mask);
            Group {
                top: child,
                mask,
                size,
                members: 1,
            }
        })
        .collect();
    let everything = u64::MAX >> (64 - slots.len().clamp(1, 64));
    while groups.len() > 2 {
        let smallest = (0..groups.len())
            .min_by(|&a, &b| {
                let (a, b) = (&groups[a], &groups[b]);
                let by_size = a.size.total_cmp(&b.size);
                by_size
                    .then(a.members.cmp(&b.members))
                    .then(a.top.cmp(&b.top))
            })
            .unwrap_or(0);
        let first = groups.swap_remove(smallest);
        let partner = (0..groups.len())
            .min_by(|&a, &b| {
                let (a, b) = (&groups[a], &groups[b]);
                let union = |group: &Group| size_of(group.mask | first.mask);
                let by_size = union(a).total_cmp(&union(b));
                by_size
                    .then(a.members.cmp(&b.members))
                    .then(a.top.cmp(&b.top))
            })
            .unwrap_or(0);
        if groups.len() < MANY && (first.mask | groups[partner].mask) == everything {
            // A few large separators: a clique of the full size would save nothing.
            groups.push(first);
            break;
        }
        let second = groups.swap_remove(partner);
        let mask = first.mask | second.mask;
        let inside = slots
            .iter()
            .enumerate()
            .filter(|(bit, _)| mask >> bit & 1 == 1);
        let scope: Vec<usize> = inside.map(|(_, &slot)| slot).collect();
        let top = cliques.len();
        for child in [first.top, second.top] {
            cliques[child].parent = Some(top);
        }
        let mut clique = Clique::over(scope.clone());
        clique.separator = scope;
        clique.parent = Some(index);
        clique.children = vec![first.top, second.top];
        cliques.push(clique);
        let members = first.members + second.members;
        groups.push(Group {
            top,
            mask,
            size: size_of(mask),
            members,
        });
    }
    cliques[index].children = groups.iter().map(|group| group.top).collect();
}
