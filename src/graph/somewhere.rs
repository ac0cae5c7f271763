//! A node for what several looks show somewhere, whichever it is.
//!
//! In: signs of looks at places, and from which answer on. Out: the graph with a two-state node: nowhere,
//! or at one place or more. What is read off signs that nothing else speaks of is read off their causes at
//! once: P(nowhere) is the product of the signs' own P(below that answer), and each noisy-MAX gives one factor
//! to each of its parents (Pearl 1988), so that the signs themselves stay out of the figures.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::graph::{CausalGraph, GraphError};
use crate::ids::VarId;
use crate::infer::{Family, Link};

/// A sign of a look at one place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Looked {
    /// The sign.
    pub sign: VarId,
    /// Whether findings speak of it: then it stays a node of its own between its causes and the new one.
    pub told: bool,
}

impl CausalGraph {
    /// The graph with the new node, and that node: state 1 where some sign is at `from` or further. `states`
    /// names its two states. Time and memory: those of a copy.
    ///
    /// # Errors
    /// A name that is taken.
    pub fn with_somewhere(
        &self,
        (name, label): (&str, &str),
        states: [String; 2],
        signs: &[Looked],
        from: usize,
    ) -> Result<(Self, VarId), GraphError> {
        let mut nowhere = 1.0;
        // Per parent and state: the chance that through it no sign gets so far.
        let mut below: BTreeMap<VarId, Vec<f64>> = BTreeMap::new();
        let mut through = |parent: VarId, chances: Vec<f64>| match below.get_mut(&parent) {
            Some(known) => known.iter_mut().zip(chances).for_each(|(a, b)| *a *= b),
            None => {
                below.insert(parent, chances);
            }
        };
        let up_to = |row: &[f64]| row[..from].iter().sum::<f64>();
        for &Looked { sign, told } in signs {
            let node = self.network.node(sign);
            match &node.family {
                Family::NoisyMax { background, links } if !told => {
                    nowhere *= up_to(background);
                    for link in links {
                        through(
                            link.parent,
                            link.push.iter().map(|row| up_to(row)).collect(),
                        );
                    }
                }
                _ => {
                    let reaches = |state| f64::from(u8::from(state < from));
                    through(sign, (0..node.states).map(reaches).collect());
                }
            }
        }
        let links = below.iter().map(|(&parent, chances)| Link {
            parent,
            push: chances.iter().map(|&p| vec![p, 1.0 - p]).collect(),
        });
        let background = vec![nowhere, 1.0 - nowhere];
        self.with_gather(name, label, Arc::new(states), (background, links.collect()))
    }
}
