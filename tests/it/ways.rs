//! The ways between set-ups: from wherever the vehicle is said to stand, a way leads on.
//! Kind: common practice (no source).

use seepwise::advise::{Shop, nearest, way_to};
use seepwise::graph::CausalGraph;
use seepwise::job::{JobFile, resolve};
use seepwise::rules;
use seepwise::source::{SourceFile, Sources};

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

/// A level falls by itself under a tester, and a night that it stood closed is no night under pressure: after a
/// hold overnight the level is marked for a night of its own, and the other way round. In one night of either
/// kind all of that kind can be looked at.
#[test]
fn a_night_counts_for_what_was_set_up_that_night() {
    const NIGHT: f64 = 600.0;
    let loaded = rules::load_embedded();
    let base = loaded.rules.as_ref().unwrap();
    let needs = |check: &str| {
        &base
            .checks
            .iter()
            .find(|of| of.named.id == check)
            .unwrap()
            .needs
    };
    for layout in &loaded.layouts {
        let graph = CausalGraph::expand(base, layout).unwrap();
        let waits = |log: &str, check: &str| {
            let text = format!("job: 1\nlayout: {}\nlog:\n{log}", layout.named.id);
            let mut sources = Sources::new();
            let file = sources.add(SourceFile::new("job.yaml", &text));
            let job = JobFile::read(file, &sources).unwrap();
            let mut case = resolve(&job, base, layout, &graph, &Shop::default(), 0.03).unwrap();
            case.blocks.clear();
            way_to(&case, needs(check)).unwrap().waiting
        };
        let pumped = "  - {check: night_hold, answer: holds}\n";
        let closed = "  - {check: level_night, answer: same}\n";
        assert!(waits(pumped, "level_night") >= NIGHT, "{}", layout.named.id);
        assert!(waits(closed, "night_hold") >= NIGHT, "{}", layout.named.id);
        assert!(waits(pumped, "night_hold") < 1.0 && waits(closed, "level_night") < 1.0);
    }
}
