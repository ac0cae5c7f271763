//! The worked example of `rules/AUTHORING.md`, done as it is written. Kind: own inputs.

use std::path::Path;

use crate::program::told_here;

/// The fenced blocks of the worked example, in order: the word behind the fence, and the text.
fn blocks() -> Vec<(String, String)> {
    let guide = include_str!("../../rules/AUTHORING.md");
    let (_, from) = guide
        .split_once("## A worked example")
        .expect("the example");
    let (example, _) = from.split_once("\n## ").expect("an end");
    let mut fences = example.split("```");
    let mut found = Vec::new();
    // Text and blocks take turns.
    while let (Some(_), Some(block)) = (fences.next(), fences.next()) {
        let (word, text) = block.split_once('\n').expect("a block of lines");
        found.push((word.to_owned(), text.to_owned()));
    }
    found
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let at = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &at);
        } else {
            std::fs::copy(entry.path(), at).unwrap();
        }
    }
}

fn insert_below(path: &Path, line: &str, text: &str) {
    let file = std::fs::read_to_string(path).unwrap();
    let at = file.find(line).expect("the line") + line.len();
    std::fs::write(path, format!("{}{text}{}", &file[..at], &file[at..])).unwrap();
}

fn append(path: &Path, text: &str) {
    let file = std::fs::read_to_string(path).unwrap();
    std::fs::write(path, file + text).unwrap();
}

/// Each line that the guide quotes stands in what is told, in that order.
fn quotes(quoted: &str, told: &str) {
    let mut rest = told;
    for line in quoted.lines().map(str::trim_end) {
        // An ellipsis, the tail of a broken line, a file's place.
        if line.is_empty() || line == "[…]" || line.trim_start().starts_with("-->") {
            continue;
        }
        let line = line.trim_end_matches('…');
        let at = rest.find(line);
        let at = at.unwrap_or_else(|| panic!("the guide says `{line}`; told was:\n{told}"));
        rest = &rest[at + line.len()..];
    }
}

#[test]
fn the_worked_example_of_the_guide_comes_out_as_it_says() {
    let folder = tempfile::tempdir().unwrap();
    let rules = folder.path().join("my-rules");
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    copy(&root.join("rules/coolant"), &rules);
    let (part, job) = (
        rules.join("flow_glass.yaml"),
        folder.path().join("flow_glass.yaml"),
    );
    let (rules_text, job_text) = (rules.to_str().unwrap(), job.to_str().unwrap());
    let review = || told_here(&["rules", "review", "--rules", rules_text]);
    let replay = || told_here(&["replay", job_text, "--rules", rules_text]);
    let all = blocks();
    let mut yaml = all.iter().filter(|(word, _)| word == "yaml");
    let mut yaml = || yaml.next().expect("a block of rules").1.as_str();
    let quoted = |begins: &str| {
        let mut of = all.iter().filter(|(word, _)| word.is_empty());
        let found = of.find(|(_, text)| text.trim_start().starts_with(begins));
        found
            .unwrap_or_else(|| panic!("no block begins `{begins}`"))
            .1
            .as_str()
    };

    std::fs::write(&part, yaml()).unwrap();
    let (code, told, _) = review();
    assert_eq!(code, 0);
    quotes(quoted("advice[unused-kind]"), &told);

    insert_below(&rules.join("layouts/pump_set.yaml"), "\nparts:\n", yaml());
    let looks = std::fs::read_to_string(rules.join("checks_places.yaml")).unwrap();
    let each = looks.split_once("  look_at_joint:\n").expect("the look").1;
    let each = each.split_once("    each:\n").expect("its places").0;
    let line = format!("  look_at_joint:\n{each}    each:\n");
    insert_below(&rules.join("checks_places.yaml"), &line, yaml());
    let (_, told, _) = review();
    quotes("0 errors, 0 pieces of advice", &told);

    let check = yaml();
    append(&part, check);
    let (code, told, _) = review();
    assert_eq!(code, 1);
    quotes(quoted("error[certain-sign]"), &told);
    let mended = std::fs::read_to_string(&part).unwrap();
    let mended = mended.replace("background: {wet: 0}", "background: {wet: 4}");
    std::fs::write(&part, mended).unwrap();
    let (_, told, _) = review();
    quotes("0 errors, 0 pieces of advice", &told);

    std::fs::write(&job, yaml()).unwrap();
    let (code, told, _) = replay();
    assert_eq!(code, 1);
    quotes(quoted("flow_glass: NOT as expected."), &told);

    append(&part, yaml());
    let log = std::fs::read_to_string(&job).unwrap();
    let (log, expect) = log.split_once("expect:").expect("an end");
    std::fs::write(&job, format!("{log}{}expect:{expect}", yaml())).unwrap();
    let (code, told, _) = replay();
    assert_eq!(code, 0, "{told}");
    quotes(quoted("Where it stands"), &told);

    let rank = [
        "rank",
        "--layout",
        "pump_set",
        "--found",
        "loss_reported=slow",
        "--json",
    ];
    let (_, told, _) = told_here(&[&rank[..], &["--rules", rules_text]].concat());
    quotes(quoted("\"place\": \"flow_glass\""), &told);
}
