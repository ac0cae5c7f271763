//! Leaving out what can't be: zero compression across the whole tree.
//!
//! In: cliques with tables without zeros and full separators. Out: only entries that agree with
//! some entry of every other clique, and separators of only the entries that are left
//! (Jensen & Andersen 1990). What is left out is impossible whatever weights are put on later.
//!
//! Example: where one clique rules out "leak above the gather", its neighbours drop it too.

use crate::infer::tree::Tree;

/// Marks a separator entry that is left out.
pub(super) const GONE: u32 = u32::MAX;

/// Prunes entries upwards, then downwards, and numbers the separators' entries anew.
pub(super) fn prune(tree: &mut Tree) {
    let count = tree.cliques.len();
    let sizes = tree.cliques.iter().map(|clique| clique.separator_entries);
    let mut below: Vec<Vec<bool>> = sizes.map(|size| vec![false; size]).collect();
    let mut above = below.clone();
    let mut alive: Vec<Vec<bool>> = tree
        .cliques
        .iter()
        .map(|clique| vec![true; clique.table.len()])
        .collect();
    for &index in tree.top_down.iter().rev() {
        let clique = &tree.cliques[index];
        for &child in &clique.children {
            let map = &tree.cliques[child].from_parent;
            for (alive, &at) in alive[index].iter_mut().zip(map) {
                *alive &= below[child][at as usize];
            }
        }
        for (_, &at) in alive[index]
            .iter()
            .zip(&clique.to_separator)
            .filter(|(alive, _)| **alive)
        {
            below[index][at as usize] = true;
        }
    }
    above[tree.top_down[0]].fill(true);
    for &index in &tree.top_down {
        let clique = &tree.cliques[index];
        for (alive, &at) in alive[index].iter_mut().zip(&clique.to_separator) {
            *alive &= above[index][at as usize];
        }
        for &child in &clique.children {
            let map = &tree.cliques[child].from_parent;
            for (_, &at) in alive[index].iter().zip(map).filter(|(alive, _)| **alive) {
                above[child][at as usize] = true;
            }
        }
    }
    for index in 0..count {
        let mut next = 0;
        let numbers: Vec<u32> = above[index]
            .iter()
            .map(|&used| {
                next += u32::from(used);
                if used { next - 1 } else { GONE }
            })
            .collect();
        let parent_alive = tree.cliques[index].parent.map(|parent| &alive[parent]);
        let clique = &mut tree.cliques[index];
        let mine = &alive[index];
        pick(&mut clique.kept, mine);
        pick(&mut clique.table, mine);
        pick(&mut clique.to_separator, mine);
        if let Some(theirs) = parent_alive {
            pick(&mut clique.from_parent, theirs);
        }
        if next as usize != numbers.len() {
            renumber(&mut clique.to_separator, &numbers);
            renumber(&mut clique.from_parent, &numbers);
        }
        clique.separator_entries = next as usize;
        clique.separator_numbers = numbers;
    }
}

fn pick<T: Copy>(items: &mut Vec<T>, alive: &[bool]) {
    let mut left = alive.iter();
    items.retain(|_| left.next().is_some_and(|&alive| alive));
}

fn renumber(map: &mut [u32], numbers: &[u32]) {
    for at in map {
        *at = numbers[*at as usize];
    }
}
