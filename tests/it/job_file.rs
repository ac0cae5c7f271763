//! Job and shop files: reading, writing, and what is refused.

use proptest::collection::vec;
use proptest::option;
use proptest::prelude::{Just, Strategy, any, prop_assert_eq, prop_oneof, proptest};
use seepwise::job::{
    AnswerGiven, DrySpell, Entry, Expect, Filled, Found, JobFile, Logged, RepairDone, Role, Seen,
    ShopFile, Sure,
};
use seepwise::notice::codes;
use seepwise::source::{SourceFile, Sources};

fn read(text: &str) -> Result<JobFile, Vec<(&'static str, usize, usize, String)>> {
    let mut sources = Sources::new();
    let file = sources.add(SourceFile::new("a.yaml", text));
    JobFile::read(file, &sources).map_err(|notices| {
        let views = notices.views(&sources).into_iter();
        views
            .map(|view| {
                (
                    view.code,
                    view.line,
                    view.column,
                    format!("{} {}", view.message, view.help.unwrap_or_default()),
                )
            })
            .collect()
    })
}

fn word() -> impl Strategy<Value = String> {
    prop_oneof![
        "[a-z][a-z0-9_]{0,8}",
        "\\PC{1,12}",
        Just("no".to_owned()),
        Just("a: b #c".to_owned())
    ]
}

fn text() -> impl Strategy<Value = String> {
    prop_oneof![any::<String>(), "[ a-z:#'\"\\\\\n\t-]{0,40}"]
}

fn pairs() -> impl Strategy<Value = Vec<(String, String)>> {
    proptest::collection::btree_map(word(), word(), 1..4).prop_map(|map| map.into_iter().collect())
}

fn entry() -> impl Strategy<Value = Entry> {
    let answer = prop_oneof![
        word().prop_map(AnswerGiven::One),
        pairs().prop_map(AnswerGiven::Several)
    ];
    let sure = prop_oneof![Just(Sure::Sure), Just(Sure::Fairly), Just(Sure::Guess)];
    let seen = prop_oneof![Just(Seen::Whole), Just(Seen::InPart), Just(Seen::Not)];
    let places = || vec(word(), 0..3);
    let except = prop_oneof![Just(Vec::new()), pairs()];
    let found = (
        word(),
        option::of(word()),
        answer,
        sure,
        seen,
        except,
        places(),
        places(),
        any::<bool>(),
    )
        .prop_map(
            |(check, at, answer, sure, seen, except, not_seen, in_part, again)| {
                Entry::Found(Found {
                    check,
                    at,
                    answer,
                    sure,
                    seen,
                    except,
                    not_seen,
                    in_part,
                    again,
                })
            },
        );
    prop_oneof![
        found,
        pairs().prop_map(Entry::SetUp),
        vec(word(), 0..3).prop_map(Entry::CoversOff),
        vec(word(), 0..3).prop_map(Entry::CoversOn),
        (word(), option::of(word())).prop_map(|(cause, at)| Entry::Confirmed { cause, at }),
        (word(), option::of(word())).prop_map(|(cause, at)| Entry::RuledOut { cause, at }),
        (1..99_usize).prop_map(Entry::Withdrawn),
        word().prop_map(Entry::Cleared),
        text().prop_map(Entry::Note),
        mended(),
    ]
}

/// Repairs and what follows them.
fn mended() -> impl Strategy<Value = Entry> {
    let litres = || prop_oneof![Just(0.25), Just(3.0), Just(12.5)];
    let filled = move || {
        (litres(), option::of(0.0..=100.0_f64))
            .prop_map(|(litres, percent)| Filled { litres, percent })
    };
    let repaired = (
        vec(word(), 1..3),
        text(),
        option::of(filled()),
        option::of(vec(word(), 0..3)),
    )
        .prop_map(|(faults, how, refilled, cleaned)| {
            Entry::Repaired(RepairDone {
                faults,
                how,
                refilled,
                cleaned,
            })
        });
    let spell =
        (word(), 0.5..99.0_f64).prop_map(|(check, days)| Entry::DrySpell(DrySpell { check, days }));
    prop_oneof![
        repaired,
        filled().prop_map(Entry::Refilled),
        vec(word(), 0..3).prop_map(Entry::Cleaned),
        litres().prop_map(Entry::ToppedUp),
        spell,
        (word(), text()).prop_map(|(why, until)| Entry::Waiting { why, until }),
        (word(), text()).prop_map(|(to, open)| Entry::HandedOver { to, open }),
        (word(), text()).prop_map(|(says, open)| Entry::Closed { says, open }),
    ]
}

/// An entry, sometimes of what was so before a repair.
fn logged() -> impl Strategy<Value = Logged> {
    (entry(), option::of(1..9_usize)).prop_map(|(entry, before_repair)| Logged {
        before_repair,
        ..Logged::from(entry)
    })
}

fn job() -> impl Strategy<Value = JobFile> {
    let percent = || {
        vec(0.0..=100.0_f64, 2).prop_map(|p| vec![("a@b".to_owned(), p[0]), ("ü".to_owned(), p[1])])
    };
    let expect = (
        vec(word(), 0..3),
        option::of((1..9_usize, vec(word(), 0..3))),
        percent(),
        percent(),
        percent(),
        vec(word(), 0..3),
    )
        .prop_map(
            |(first, among_first, causes_at_least, leaks_at_most, sources_at_least, blocked)| {
                Expect {
                    first,
                    among_first,
                    causes_at_least,
                    leaks_at_most,
                    sources_at_least,
                    blocked,
                    ..Expect::default()
                }
            },
        );
    (
        text(),
        word(),
        text(),
        text(),
        vec(logged(), 0..6),
        option::of(expect),
    )
        .prop_map(|(title, layout, complaint, about, log, expect)| JobFile {
            title,
            layout,
            complaint,
            about,
            log,
            expect,
        })
}

proptest! {
    #[test]
    fn what_is_written_reads_back_the_same(job in job()) {
        let text = job.write();
        prop_assert_eq!(read(&text), Ok(job), "{}", text);
    }
}

#[test]
fn says_what_is_wrong_and_where() {
    let problems = read("job: 1\nlayout: x\nlog:\n  - {chek: a, answer: b}\n  - {check: a, answer: b, shure: fairly}\n  - {check: a, answer: b, sure: farly}\n  - {withdrawn: -1}\nexpect: {first: a, causes_at_least: {a@b: 101}}\n")
        .expect_err("refused");
    let at: Vec<(&str, usize)> = problems
        .iter()
        .map(|(code, line, ..)| (*code, *line))
        .collect();
    assert_eq!(
        at,
        [
            (codes::UNKNOWN_KEY, 4),
            (codes::UNKNOWN_KEY, 5),
            (codes::UNKNOWN_NAME, 6),
            (codes::WRONG_KIND, 7),
            (codes::WRONG_KIND, 8),
            (codes::OUT_OF_RANGE, 8),
        ],
        "{problems:#?}"
    );
    for (problem, meant) in problems.iter().zip(["check", "sure", "fairly"]) {
        assert!(
            problem.3.contains(&format!("did you mean `{meant}`?")),
            "{}",
            problem.3
        );
    }
}

#[test]
fn refuses_other_versions_and_files() {
    for text in ["job: 2\nlayout: x\n", "rules: 1\n", "", "[]"] {
        let problems = read(text).expect_err("refused");
        assert_eq!(problems.len(), 1, "{text}");
        assert_eq!(problems[0].0, codes::UNKNOWN_VERSION, "{text}");
    }
}

#[test]
fn a_shop_file_reads_back_the_same() {
    let shop = ShopFile {
        role: Role::Apprentice,
        lacks: vec!["dye_lamp".to_owned(), "a: b".to_owned()],
        cannot: vec![("lift".to_owned(), vec!["raised".to_owned()])],
    };
    let mut sources = Sources::new();
    let file = sources.add(SourceFile::new("shop.yaml", &shop.write()));
    assert_eq!(ShopFile::read(file, &sources).expect("read"), shop);
    let file = sources.add(SourceFile::new(
        "bad.yaml",
        "shop: 1\nrole: aprentice\nlack: []\n",
    ));
    assert_eq!(
        ShopFile::read(file, &sources)
            .expect_err("refused")
            .errors(),
        2
    );
}
