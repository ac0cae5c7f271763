//! Bad input never stops the program: the built-in files, bent and broken, still load.

use std::sync::OnceLock;
use std::time::{Duration, Instant};

use proptest::prelude::{ProptestConfig, any, proptest};
use proptest::strategy::Strategy;
use seepwise::notice::render::{Look, render_all};
use seepwise::rules::{load_embedded, load_sources};
use seepwise::source::SourceFile;

/// One way to break a text. The numbers are taken modulo what there is.
#[derive(Debug, Clone)]
enum Damage {
    Byte(usize, u8),
    Cut(usize, usize),
    DropLine(usize),
    DoubleLine(usize),
    SwapLines(usize, usize),
    SwapWords(usize, usize),
    Replace(usize, &'static str),
}

const WORDS: [&str; 12] = [
    "yes",
    "-1",
    "1e9",
    "{}",
    "[]",
    "\"\"",
    ".nan",
    "other",
    "here",
    "everything",
    "tester",
    "0",
];

fn damage() -> impl Strategy<Value = Damage> {
    (0_usize..7, any::<usize>(), any::<usize>(), any::<u8>()).prop_map(|(kind, a, b, byte)| {
        match kind {
            0 => Damage::Byte(a, byte),
            1 => Damage::Cut(a, b % 400),
            2 => Damage::DropLine(a),
            3 => Damage::DoubleLine(a),
            4 => Damage::SwapLines(a, b),
            5 => Damage::SwapWords(a, b),
            _ => Damage::Replace(a, WORDS[b % WORDS.len()]),
        }
    })
}

fn apply(text: &str, damage: &Damage) -> String {
    let mut lines: Vec<&str> = text.lines().collect();
    let words: Vec<&str> = text
        .split_inclusive(|c: char| !c.is_alphanumeric() && c != '_')
        .collect();
    if lines.is_empty() || words.is_empty() {
        return text.to_owned();
    }
    let (line_count, word_count) = (lines.len(), words.len());
    match damage {
        Damage::Byte(at, byte) => {
            let mut bytes = text.as_bytes().to_vec();
            let at = at % bytes.len();
            bytes[at] = *byte;
            String::from_utf8_lossy(&bytes).into_owned()
        }
        Damage::Cut(at, length) => {
            let chars: Vec<char> = text.chars().collect();
            let at = at % chars.len();
            chars
                .iter()
                .take(at)
                .chain(chars.iter().skip(at + length))
                .collect()
        }
        Damage::DropLine(at) => {
            lines.remove(at % line_count);
            lines.join("\n")
        }
        Damage::DoubleLine(at) => {
            lines.insert(at % line_count, lines[at % line_count]);
            lines.join("\n")
        }
        Damage::SwapLines(a, b) => {
            lines.swap(a % line_count, b % line_count);
            lines.join("\n")
        }
        Damage::SwapWords(a, b) => {
            let mut words = words;
            words.swap(a % word_count, b % word_count);
            words.concat()
        }
        Damage::Replace(at, with) => {
            let mut words = words;
            words[at % word_count] = with;
            words.concat()
        }
    }
}

/// Names and texts of the built-in files.
fn built_in() -> Vec<(String, String)> {
    static TEXTS: OnceLock<Vec<(String, String)>> = OnceLock::new();
    let texts = TEXTS.get_or_init(|| {
        let sources = load_embedded().sources;
        sources
            .files()
            .iter()
            .map(|file| (file.name.clone(), file.text.to_string()))
            .collect()
    });
    texts.clone()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, ..ProptestConfig::default() })]

    #[test]
    fn broken_files_still_load(hits in proptest::collection::vec((any::<usize>(), damage()), 1..6)) {
        let mut texts = built_in();
        let count = texts.len();
        for (file, damage) in &hits {
            let text = &mut texts[file % count].1;
            *text = apply(text, damage);
        }
        let start = Instant::now();
        let loaded = load_sources(texts.into_iter().map(|(name, text)| SourceFile::new(name, &text)).collect());
        let page = render_all(&loaded.notices, &loaded.sources, Look::default());
        assert!(start.elapsed() < Duration::from_secs(20), "took {:?}", start.elapsed());
        assert!(!page.is_empty());
        assert_eq!(loaded.rules.is_some(), loaded.notices.errors() == 0);
    }
}
