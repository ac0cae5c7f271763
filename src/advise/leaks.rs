//! The chance that a place leaks, in any way.
//!
//! In: the graph and an engine that holds what each fault does. Out: a chance per place. That nothing leaks at
//! a place is one product of weights on its faults, so the tree needs no node for the place, which
//! would make it some three times as large.
//!
//! Example: a place with one fault leaks as often as that fault does.

use crate::graph::CausalGraph;
use crate::ids::{IdVec, PartId, VarId};
use crate::infer::{Engine, Family};

/// A fault that leaks less often than this can't be seen in the place's chance.
const NEVER: f64 = 1e-13;

/// What is known of a place before its product is worked out.
struct Place {
    part: PartId,
    /// The chance of its likeliest fault to leak, and the sum over all: it leaks as often as the one
    /// at least and as the other at most.
    between: (f64, f64),
    /// Per fault that leaks at all: the weights under which it leaks nothing.
    dry: Vec<(VarId, Vec<f64>)>,
}

/// For each part: the chance that it leaks; none if it can't.
pub(super) fn leaks(graph: &CausalGraph, engine: &Engine) -> IdVec<PartId, Option<f64>> {
    let mut leaks: IdVec<PartId, Option<f64>> = graph.leak_of.iter().map(|_| None).collect();
    let places = graph.leak_of.enumerated();
    let places: Vec<Place> = places
        .filter_map(|(part, leak)| Some(place(graph, engine, part, (*leak)?)))
        .collect();
    let several = |place: &&Place| place.dry.len() > 1;
    let products: Vec<_> = (places.iter().filter(several))
        .map(|place| place.dry.clone())
        .collect();
    let mut dry = engine.means(&products).into_iter();
    for place in &places {
        let (least, most) = place.between;
        leaks[place.part] = Some(if several(&place) {
            let dry = dry.next().unwrap_or(1.0 - most);
            (1.0 - dry).clamp(least, most)
        } else {
            least
        });
    }
    leaks
}

fn place(graph: &CausalGraph, engine: &Engine, part: PartId, leak: VarId) -> Place {
    let mut place = Place {
        part,
        between: (0.0, 0.0),
        dry: Vec::new(),
    };
    let Family::NoisyMax { links, .. } = &graph.network.node(leak).family else {
        return place;
    };
    for link in links {
        let dry: Vec<f64> = link.push.iter().map(|row| row[0]).collect();
        let states = engine.marginal(link.parent).unwrap_or_default();
        let leaks: f64 = (states.iter().zip(&dry))
            .map(|(chance, dry)| chance * (1.0 - dry))
            .sum();
        let (least, most) = place.between;
        let leaks = leaks.clamp(0.0, 1.0);
        place.between = (least.max(leaks), (most + leaks).min(1.0));
        if leaks > NEVER {
            place.dry.push((link.parent, dry));
        }
    }
    place
}
