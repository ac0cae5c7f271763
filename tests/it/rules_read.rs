//! The tree reader: text of scalars, order, repeats, and a place for every node.

use seepwise::notice::Notices;
use seepwise::rules::raw::{Fields, Node, Value};
use seepwise::rules::{load_embedded, read};
use seepwise::source::{SourceFile, SourceId, Sources};

const SAMPLE: &str = "\
rules: 1
plain: off
quoted: \"no\"
number: 012
flow: {a: 1, b: [x, 'y'], c}
block:
  - one
  - two: 2
    three:
text: |
  first
  second
é: ü
last: a plain
  text
";

fn sample() -> (Sources, SourceId, Node) {
    let mut sources = Sources::new();
    let file = sources.add(SourceFile::new("sample.yaml", SAMPLE));
    let tree = read::tree(file, &sources).unwrap();
    (sources, file, tree)
}

#[test]
fn scalars_stay_text() {
    let (_, _, tree) = sample();
    assert_eq!(tree.get("plain").unwrap().text(), Some("off"));
    assert_eq!(tree.get("number").unwrap().text(), Some("012"));
    let quoted = tree.get("quoted").unwrap();
    assert_eq!(
        quoted.value,
        Value::Scalar {
            text: "no".to_owned(),
            quoted: true
        }
    );
    assert_eq!(tree.get("text").unwrap().text(), Some("first\nsecond\n"));
    assert_eq!(tree.get("last").unwrap().text(), Some("a plain text"));
    assert!(tree.get("flow").unwrap().get("c").unwrap().is_nothing());
    assert!(
        tree.get("block").unwrap().items().unwrap()[1]
            .get("three")
            .unwrap()
            .is_nothing()
    );
}

#[test]
fn every_node_has_a_place_inside_its_file() {
    let (sources, _, tree) = sample();
    let mut count = 0;
    tree.each_span(&mut |span| {
        count += 1;
        let place = sources.place(span);
        assert!(
            place.line > 0 && place.column > 0 && span.end <= SAMPLE.len(),
            "{span:?}"
        );
    });
    assert!(count > 25);
    let places = |key: &str| {
        let place = sources.place(tree.get(key).unwrap().span);
        (place.line, place.column)
    };
    assert_eq!(places("plain"), (2, 8));
    assert_eq!(places("flow"), (5, 7));
    assert_eq!(places("é"), (13, 4));
    assert_eq!(
        sources.slice(tree.get("flow").unwrap().span),
        "{a: 1, b: [x, 'y'], c}"
    );
    assert_eq!(sources.slice(tree.get("quoted").unwrap().span), "\"no\"");
    assert_eq!(
        sources.slice(tree.get("last").unwrap().span),
        "a plain\n  text"
    );
}

#[test]
fn the_text_of_every_plain_scalar_stands_at_its_span() {
    let loaded = load_embedded();
    for file in loaded.sources.ids() {
        let Ok(tree) = read::tree(file, &loaded.sources) else {
            continue;
        };
        check_text(&tree, &loaded.sources);
    }
}

fn check_text(node: &Node, sources: &Sources) {
    match &node.value {
        Value::Map(entries) => entries
            .iter()
            .for_each(|(_, node)| check_text(node, sources)),
        Value::List(items) => items.iter().for_each(|node| check_text(node, sources)),
        Value::Scalar {
            text,
            quoted: false,
        } => {
            let written = sources
                .slice(node.span)
                .split_whitespace()
                .collect::<Vec<_>>()
                .join(" ");
            assert_eq!(&written, text, "{:?}", sources.place(node.span));
            assert!(sources.place(node.span).line > 0);
        }
        Value::Scalar { .. } => assert!(!sources.slice(node.span).is_empty()),
    }
}

#[test]
fn repeats_are_all_kept_and_all_reported() {
    let mut sources = Sources::new();
    let file = sources.add(SourceFile::new("a.yaml", "a: 1\nb: 2\na: 3\na: 4\n"));
    let tree = read::tree(file, &sources).unwrap();
    assert_eq!(tree.entries().unwrap().len(), 4);
    let mut notices = Notices::new();
    let mut fields = Fields::of(&tree, tree.span, "a test", &mut notices).unwrap();
    assert_eq!(fields.take("a").unwrap().text(), Some("1"));
    assert_eq!(
        notices
            .iter()
            .filter(|notice| notice.code == "duplicate-name")
            .count(),
        2
    );
    assert!(notices.iter().all(|notice| notice.labels.len() == 1));
}

#[test]
fn places_count_characters_from_one() {
    let (sources, file, _) = sample();
    let source = sources.file(file);
    assert_eq!((source.place(0).line, source.place(0).column), (1, 1));
    let past = source.place(SAMPLE.len() + 100);
    assert_eq!((past.line, past.column), (16, 1));
    assert_eq!(&SAMPLE[source.byte_at(13, 4)..source.byte_at(13, 5)], "ü");
}

/// What a file declares that can't be read is missing from all others: that file alone is shown.
#[test]
fn a_file_that_cannot_be_read_stands_alone() {
    let loaded = seepwise::rules::load_sources(vec![
        SourceFile::new("a.yaml", "rules: 1\ntools:\n\ttorch: a torch\n"),
        SourceFile::new("b.yaml", "rules: 1\nchecks:\n  look: {tools: [torch]}\n"),
    ]);
    let said = loaded.notices.views(&loaded.sources);
    assert_eq!(said.len(), 1, "{said:?}");
    assert!(format!("{said:?}").contains("a tab indents this line"));
    // Where it can be read, the other file's errors show.
    let loaded = seepwise::rules::load_sources(vec![
        SourceFile::new("a.yaml", "rules: 1\ntools:\n  torch: a torch\n"),
        SourceFile::new("b.yaml", "rules: 1\nchecks:\n  look: {tools: [torch]}\n"),
    ]);
    assert!(loaded.notices.views(&loaded.sources).len() > 1);
}
