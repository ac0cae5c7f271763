//! The built-in rule base loads without errors; all its notices are printed.

use std::path::Path;

use seepwise::graph::CausalGraph;
use seepwise::notice::render::{Look, render_all};
use seepwise::rules;

#[test]
fn built_in_rules_have_no_errors() {
    let loaded = rules::load_dir(
        Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("rules/coolant")
            .as_path(),
    );
    println!(
        "{}",
        render_all(&loaded.notices, &loaded.sources, Look::default())
    );
    assert_eq!(loaded.notices.errors(), 0, "the notices are printed above");
    assert!(loaded.rules.is_some());
}

#[test]
fn the_embedded_rules_are_those_in_the_folder() {
    let embedded = rules::load_embedded();
    let folder = rules::load_dir(
        Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("rules/coolant")
            .as_path(),
    );
    let names = |loaded: &rules::Loaded| -> Vec<String> {
        loaded
            .sources
            .files()
            .iter()
            .map(|file| file.name.clone())
            .collect()
    };
    assert_eq!(names(&embedded), names(&folder));
    assert_eq!(embedded.notices.len(), folder.notices.len());
}

/// What is to be watched for a week waits a week. Kind: common practice.
#[test]
fn a_week_is_seven_days() {
    let loaded = rules::load_embedded();
    let base = loaded.rules.as_ref().expect("the built-in rules load");
    let mut weeks = 0;
    for layout in &loaded.layouts {
        let graph = CausalGraph::expand(base, layout).expect("a graph");
        for task in &graph.tasks {
            let check = &base.checks[task.check];
            if check.named.name.contains("for a week") {
                assert!(
                    (task.waiting - 7.0 * 24.0 * 60.0).abs() < 1e-9,
                    "{}",
                    check.named.id
                );
                weeks += 1;
            }
        }
    }
    assert!(weeks > loaded.layouts.len());
}
