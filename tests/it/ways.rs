//! The ways between set-ups: from wherever the vehicle is said to stand, a way leads on.
//! Kind: common practice (no source).

use seepwise::advise::{Shop, nearest};
use seepwise::graph::CausalGraph;
use seepwise::job::{JobFile, resolve};
use seepwise::rules;

/// The facets whose values forbid one another; the others change freely.
const ENTANGLED: [&str; 6] = [
    "temperature",
    "system",
    "engine",
    "lift",
    "near_belt",
    "fill",
];

/// A technician who says that it stands hot and open, drained, or pumped with the engine running is told how it
/// gets out of that, not that nothing is left. A vehicle may stand in a way that the tool would never lead
/// to.
#[test]
fn from_every_set_up_a_way_leads_to_a_closed_and_filled_vehicle() {
    let loaded = rules::load_embedded();
    let base = loaded.rules.as_ref().unwrap();
    let needs = &base.release.as_ref().unwrap().needs;
    for layout in &loaded.layouts {
        let graph = CausalGraph::expand(base, layout).unwrap();
        let job = JobFile {
            layout: layout.named.id.clone(),
            ..JobFile::default()
        };
        let mut case = resolve(&job, base, layout, &graph, &Shop::default(), 0.03).unwrap();
        // Controller and start battery off, locked and tagged.
        case.blocks.clear();
        let mut stuck = Vec::new();
        let mut set_ups = vec![case.set_up.values.clone()];
        for (facet, of) in base.facets.iter().enumerate() {
            if ENTANGLED.contains(&of.named.id.as_str()) {
                set_ups = set_ups
                    .iter()
                    .flat_map(|values| {
                        (0..of.values.len()).map(move |value| {
                            let mut values = values.clone();
                            values[facet] = value;
                            values
                        })
                    })
                    .collect();
            }
        }
        assert!(set_ups.len() >= 320);
        for values in set_ups {
            case.set_up.values.clone_from(&values);
            if nearest(&case, needs).is_none() {
                let words = base.facets.iter().zip(&values);
                let words = words.filter(|(facet, _)| ENTANGLED.contains(&facet.named.id.as_str()));
                let words: Vec<&str> = words
                    .map(|(facet, &value)| facet.values[value].named.id.as_str())
                    .collect();
                stuck.push(words.join(" "));
            }
        }
        assert!(stuck.is_empty(), "{}: {stuck:#?}", layout.named.id);
    }
}
