//! Each bad file or folder under `tests/bad/` gives the notices of its snapshot.
//!
//! A bad file is named after the code it must give, with `@variant` where there are several. It
//! is added to `_rules.yaml`, which is without fault. A file that begins with `layout:` stands
//! for `_layout.yaml`; a folder brings its own layout.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use seepwise::notice::CODES;
use seepwise::notice::render::{Look, render_all};
use seepwise::rules::{Loaded, load_dir, load_sources};
use seepwise::source::SourceFile;
use seepwise::source::disk::{read_file, yaml_files};

/// Codes whose bad files are too large to keep, or are no files: see `rules_limits.rs`.
/// The advice of a review has its defects in `rules_review.rs`.
const ELSEWHERE: [&str; 11] = [
    "too-large",
    "unreadable",
    "how-to-too-long",
    "hard-to-read",
    "caution-missing",
    "stays-dry",
    "cannot-arise",
    "not-worth-asking",
    "nothing-separates",
    "share-out-of-line",
    "not-worked-out",
];

fn bad() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bad")
}

fn good_rules() -> SourceFile {
    read_file(&bad().join("_rules.yaml"), "_rules.yaml").unwrap()
}

/// The bad cases: name and path of each file or folder.
fn cases() -> Vec<(String, PathBuf)> {
    let mut cases = Vec::new();
    for entry in std::fs::read_dir(bad()).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
        if !name.starts_with('_') {
            cases.push((name, path));
        }
    }
    cases.sort();
    cases
}

fn load(path: &Path) -> Loaded {
    if path.is_dir() {
        let mut files = vec![good_rules()];
        for (name, path) in yaml_files(path).unwrap() {
            files.push(read_file(&path, &name).unwrap());
        }
        return load_sources(files);
    }
    let name = path.file_name().unwrap().to_str().unwrap();
    if let Ok(file) = read_file(path, name) {
        return load_sources(vec![good_rules(), file]);
    }
    // Only a folder can hold a file that is no text.
    let folder = tempfile::tempdir().unwrap();
    std::fs::copy(bad().join("_rules.yaml"), folder.path().join("_rules.yaml")).unwrap();
    std::fs::copy(path, folder.path().join(name)).unwrap();
    load_dir(folder.path())
}

#[test]
fn the_good_files_are_good() {
    let layout = read_file(&bad().join("_layout.yaml"), "_layout.yaml").unwrap();
    let loaded = load_sources(vec![good_rules(), layout]);
    assert_eq!(
        render_all(&loaded.notices, &loaded.sources, Look::default()),
        "0 errors, 0 pieces of advice\n"
    );
    let rules = loaded.rules.unwrap();
    assert_eq!(
        (rules.kinds.len(), rules.faults.len(), loaded.layouts.len()),
        (4, 6, 1)
    );
}

#[test]
fn every_bad_file_gives_its_notices() {
    for (name, path) in cases() {
        let loaded = load(&path);
        let text = render_all(&loaded.notices, &loaded.sources, Look::default());
        let code = name.split('@').next().unwrap();
        assert!(
            loaded.notices.codes().contains(code),
            "{name} must give `{code}`, but gives:\n{text}"
        );
        insta::assert_snapshot!(name, text);
    }
}

#[test]
fn every_code_has_a_bad_file() {
    let covered: BTreeSet<String> = cases()
        .into_iter()
        .map(|(name, _)| name.split('@').next().unwrap().to_owned())
        .collect();
    for (code, meaning) in CODES {
        assert!(
            covered.contains(*code) || ELSEWHERE.contains(code),
            "no file under tests/bad/ for `{code}` ({meaning})"
        );
    }
}

#[test]
fn codes_are_distinct_and_in_words() {
    let distinct: BTreeSet<&str> = CODES.iter().map(|(code, _)| *code).collect();
    assert_eq!(distinct.len(), CODES.len());
    for (code, meaning) in CODES {
        assert!(
            code.chars()
                .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-'),
            "{code}"
        );
        assert!(!meaning.is_empty());
    }
}

#[test]
fn notices_are_data_too() {
    let loaded = load(&bad().join("unknown-key.yaml"));
    let views = serde_json::to_value(loaded.notices.views(&loaded.sources)).unwrap();
    let first = &views[0];
    assert_eq!(first["code"], "unknown-key");
    assert_eq!(first["severity"], "error");
    assert_eq!(first["file"], "unknown-key.yaml");
    assert_eq!(
        (first["line"].as_u64(), first["column"].as_u64()),
        (Some(2), Some(1))
    );
    assert_eq!(first["help"], "did you mean `tools`?");
}

#[test]
fn colour_is_only_colour() {
    let loaded = load(&bad().join("unknown-key.yaml"));
    let plain = render_all(&loaded.notices, &loaded.sources, Look::default());
    let coloured = render_all(
        &loaded.notices,
        &loaded.sources,
        Look {
            colour: true,
            width: 100,
        },
    );
    assert!(coloured.contains('\u{1b}') && !plain.contains('\u{1b}'));
}
