//! The shape of the code: modules import only downwards, and nothing in `src/` knows a name of
//! the rule base. Kind: the project's own rule (DEVELOPERS.md, "Map of the code").

use std::path::{Path, PathBuf};

use seepwise::rules;

/// From the ground up.
const LAYERS: [&str; 15] = [
    "ids", "chance", "cores", "measure", "infer", "reading", "source", "notice", "rules", "graph",
    "advise", "show", "job", "train", "cli",
];

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|ext| ext == "rs") {
            found.push(path);
        }
    }
}

/// Every source file with the module it belongs to and its text.
fn files() -> Vec<(String, PathBuf, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut found = Vec::new();
    sources(&root, &mut found);
    found
        .into_iter()
        .map(|path| {
            let inside = path.strip_prefix(&root).unwrap();
            let first = inside
                .components()
                .next()
                .unwrap()
                .as_os_str()
                .to_string_lossy();
            let text = std::fs::read_to_string(&path).unwrap();
            (first.trim_end_matches(".rs").to_owned(), path, text)
        })
        .collect()
}

#[test]
fn modules_import_only_downwards() {
    let rank = |module: &str| LAYERS.iter().position(|layer| *layer == module);
    let mut seen = 0;
    for (module, path, text) in files() {
        if module == "lib" || module == "main" {
            continue;
        }
        let here =
            rank(&module).unwrap_or_else(|| panic!("{module} has no layer: add it to LAYERS"));
        for line in text
            .lines()
            .filter(|line| !line.trim_start().starts_with("//"))
        {
            for target in line.split("crate::").skip(1) {
                let name: String = target
                    .chars()
                    .take_while(|c| c.is_alphanumeric() || *c == '_')
                    .collect();
                let Some(there) = rank(&name) else { continue };
                seen += 1;
                assert!(there <= here, "{} imports upwards: {line}", path.display());
            }
        }
    }
    assert!(seen > 100, "the imports were not found: {seen}");
}

#[test]
fn yaml_crate_is_named_in_one_place() {
    for (_, path, text) in files() {
        if text
            .lines()
            .any(|line| !line.trim_start().starts_with("//") && line.contains("serde_yaml"))
        {
            assert!(
                path.ends_with("rules/read.rs"),
                "{} names the YAML crate",
                path.display()
            );
        }
    }
}

/// Ids of the rule base that are also words of the language or of plain code would say nothing.
#[test]
fn no_name_of_the_rule_base_is_in_the_code() {
    let loaded = rules::load_embedded();
    let base = loaded.rules.expect("the built-in rules load");
    let kinds = base.kinds.iter().map(|of| &of.named.id);
    let faults = base
        .faults
        .iter()
        .filter(|fault| !fault.other)
        .map(|of| &of.named.id);
    let conditions = base.conditions.iter().map(|of| &of.named.id);
    let checks = base.checks.iter().map(|of| &of.named.id);
    let facets = base.facets.iter().map(|of| &of.named.id);
    let ids: Vec<&String> = kinds
        .chain(faults)
        .chain(conditions)
        .chain(checks)
        .chain(facets)
        .filter(|id| id.contains('_'))
        .collect();
    assert!(ids.len() > 150);
    for (_, path, text) in files() {
        // Examples in comments, help texts and unit tests may name them.
        let code = text.split("#[cfg(test)]").next().unwrap_or_default();
        for line in code
            .lines()
            .filter(|line| !line.trim_start().starts_with("//"))
        {
            if path.ends_with("cli/args.rs") && line.contains("after_help") {
                continue;
            }
            for id in &ids {
                let quoted = [format!("\"{id}\""), format!("{id}@"), format!(".{id}\"")];
                assert!(
                    !quoted.iter().any(|name| line.contains(name.as_str())),
                    "{}: {line}",
                    path.display()
                );
            }
        }
    }
}
