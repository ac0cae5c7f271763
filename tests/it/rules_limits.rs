//! Files that are refused, quickly, whatever they hold.

use std::fmt::Write;
use std::io;
use std::time::{Duration, Instant};

use seepwise::notice::render::{Look, render_all};
use seepwise::rules::{Loaded, load_dir, load_sources};
use seepwise::source::disk::{MAX_FILES, SourceError, read_stream};
use seepwise::source::{MAX_BYTES, SourceFile};

fn refused(text: &str) -> &'static str {
    let start = Instant::now();
    let loaded = load_sources(vec![SourceFile::new("a.yaml", text)]);
    assert!(
        start.elapsed() < Duration::from_secs(5),
        "took {:?}",
        start.elapsed()
    );
    assert!(loaded.rules.is_none());
    let mut codes = loaded.notices.iter().map(|notice| notice.code);
    codes.find(|code| *code != "missing-key").expect("a notice")
}

#[test]
fn a_long_comment_is_fine() {
    let text = format!(
        "{}rules: 1\n{}toolz: {{}}\n",
        "# word\n".repeat(500),
        "  # word\n".repeat(500)
    );
    assert_eq!(refused(&text), "unknown-key");
}

fn shown(loaded: &Loaded) -> String {
    render_all(&loaded.notices, &loaded.sources, Look::default())
}

#[test]
fn a_huge_file_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("huge.yaml"), "x".repeat(MAX_BYTES + 1)).unwrap();
    let loaded = load_dir(folder.path());
    insta::assert_snapshot!("too-large", shown(&loaded));
    assert_eq!(refused(&"x".repeat(MAX_BYTES + 1)), "too-large");
}

#[test]
fn an_endless_stream_is_refused() {
    assert!(matches!(
        read_stream(io::repeat(b'x'), "a pipe"),
        Err(SourceError::TooLarge { .. })
    ));
}

#[test]
fn a_sparse_file_is_refused_before_it_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let file = std::fs::File::create(folder.path().join("sparse.yaml")).unwrap();
    file.set_len(1 << 40).unwrap();
    let start = Instant::now();
    assert!(
        load_dir(folder.path())
            .notices
            .codes()
            .contains("too-large")
    );
    assert!(start.elapsed() < Duration::from_secs(1));
}

#[test]
fn a_missing_folder_is_reported() {
    let folder = tempfile::tempdir().unwrap();
    let loaded = load_dir(&folder.path().join("nowhere"));
    let text = shown(&loaded).replace(&folder.path().display().to_string(), "DIR");
    insta::assert_snapshot!("unreadable", text);
    let empty = load_dir(folder.path());
    assert!(empty.rules.is_none() && empty.notices.errors() > 0);
}

#[test]
fn too_many_files_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    for at in 0..=MAX_FILES {
        std::fs::write(folder.path().join(format!("{at}.yaml")), "").unwrap();
    }
    assert!(
        load_dir(folder.path())
            .notices
            .codes()
            .contains("too-large")
    );
}

#[cfg(unix)]
#[test]
fn a_folder_that_holds_itself_is_read_once() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("a.yaml"), "rules: 1\n").unwrap();
    std::os::unix::fs::symlink(folder.path(), folder.path().join("again")).unwrap();
    assert_eq!(load_dir(folder.path()).sources.files().len(), 1);
}

#[test]
fn deep_nesting_is_refused() {
    assert_eq!(
        refused(&format!("rules: 1\na: {}", "[".repeat(1_000_000))),
        "too-deep"
    );
    assert_eq!(
        refused(&format!("rules: 1\na: {}", "{a: ".repeat(300_000))),
        "too-deep"
    );
    assert_eq!(
        refused(&format!("rules: 1\na:\n {}", "- ".repeat(300_000))),
        "too-deep"
    );
}

#[test]
fn an_alias_bomb_is_refused() {
    let mut text = "rules: 1\na0: &a0 [x, x]\n".to_owned();
    for at in 1..60 {
        writeln!(text, "a{at}: &a{at} [*a{}, *a{}]", at - 1, at - 1).unwrap();
    }
    assert_eq!(refused(&text), "yaml-extra");
}

#[test]
fn not_a_number_is_refused_in_every_spelling() {
    for spelling in [".nan", "NaN", ".inf", "-.INF", "inf", "1e999"] {
        let text = format!("rules: 1\nsafe_limit_psi: {spelling}\n");
        let loaded = load_sources(vec![SourceFile::new("a.yaml", &text)]);
        assert!(
            loaded.notices.codes().contains("not-a-number"),
            "{spelling}: {}",
            shown(&loaded)
        );
    }
}

#[test]
fn control_characters_and_strange_versions_are_refused() {
    assert_eq!(refused("rules: 1\nabout: a\u{0}b\n"), "control-character");
    assert_eq!(refused("rules: 1\nabout: a\u{9b}b\n"), "control-character");
    assert_eq!(refused("rules: 99\n"), "unknown-version");
    assert_eq!(refused(""), "unknown-version");
    assert_eq!(refused("just text"), "unknown-version");
}

#[test]
fn a_byte_order_mark_and_dos_line_ends_are_fine() {
    let loaded = load_sources(vec![SourceFile::new(
        "a.yaml",
        "\u{feff}rules: 1\r\nabout: x\r\ntoolz: {}\r\n",
    )]);
    let place = loaded
        .notices
        .views(&loaded.sources)
        .into_iter()
        .find(|view| view.code == "unknown-key")
        .unwrap();
    assert_eq!((place.line, place.column), (3, 1));
}
