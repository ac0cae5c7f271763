//! The built-in rule base loads without errors; all its notices are printed.

use std::path::Path;

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
