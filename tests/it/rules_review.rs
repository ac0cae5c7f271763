//! Advice of `rules review`: a small rule base that gets none, and one defect at a time that gets
//! the advice meant for it, at its line.
//!
//! Sources: reading ease of two sentences as the encyclopedia article on the Flesch–Kincaid tests
//! gives it, 37.5 and 69 (published, from memory); syllables as dictionaries part the words (common
//! practice); the share of a part against vehicles drawn from the model (a second method); the
//! trade's shares (the author's judgement, in `rules/coolant/shares.yaml`). Else: own inputs.

use std::path::Path;

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use seepwise::graph::CausalGraph;
use seepwise::notice::render::{Look, render_all};
use seepwise::notice::{NoticeView, Severity};
use seepwise::rules::base::RuleBase;
use seepwise::rules::{Loaded, load_embedded, load_sources};
use seepwise::source::SourceFile;
use seepwise::train::{
    Implied, Readable, Strain, Truth, draw_with_loss, implied_shares, review, syllables,
};

use crate::program::told;

/// A complaint, so that shares can be worked out, and a fault that a check tells from the one there.
const MORE: &str = "rules: 1
checks:
  loss:
    name: the loss
    intake: yes
    reports_loss: yes
    occasion: marks
    minutes: 1
    ask: Is it losing?
    because: That is why it came.
    source: practice
    answers: {no_loss: nothing, some: some}
    background: {some: 2}
    reads: [{gather: everything, by_level: {seep: {some: 60}, drip: {some: 90}}}]
";

fn text(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bad");
    std::fs::read_to_string(path.join(name)).unwrap()
}

/// The small rule base, its layout and a complaint, with texts replaced and a file added.
fn with(replaced: &[(&str, &str)], added: &str) -> Loaded {
    // Thinned coolant hardly makes oil milky: in a review that check would not be worth asking.
    let mut files = [
        (
            "_rules.yaml",
            text("_rules.yaml").replace("{milky: 3}", "{milky: 60}"),
        ),
        ("_layout.yaml", text("_layout.yaml")),
        ("more.yaml", MORE.to_owned()),
    ];
    for (from, to) in replaced {
        let hit = files.iter_mut().find(|(_, text)| text.contains(from));
        let (_, text) = hit.unwrap_or_else(|| panic!("no file holds {from}"));
        *text = text.replacen(from, to, 1);
    }
    let files = files
        .iter()
        .map(|(name, text)| SourceFile::new(*name, text));
    let added = (!added.is_empty()).then(|| SourceFile::new("added.yaml", added));
    load_sources(files.chain(added).collect())
}

fn advice(loaded: &Loaded) -> Vec<NoticeView> {
    assert_eq!(
        loaded.notices.errors(),
        0,
        "{}",
        render_all(&loaded.notices, &loaded.sources, Look::default())
    );
    review(loaded).views(&loaded.sources)
}

/// The one piece of advice that a defect gets.
fn only(code: &str, replaced: &[(&str, &str)], added: &str) -> NoticeView {
    let found = advice(&with(replaced, added));
    assert_eq!(found.len(), 1, "{code}: {found:#?}");
    let notice = found.into_iter().next().unwrap();
    assert_eq!((notice.code, notice.severity), (code, Severity::Advice));
    assert!(notice.help.is_some() && notice.line > 0);
    notice
}

#[test]
fn a_sound_rule_base_gets_no_advice() {
    assert_eq!(advice(&with(&[], "")), []);
}

#[test]
fn the_built_in_rules_get_no_advice() {
    let loaded = load_embedded();
    let notices = review(&loaded);
    let text = render_all(&notices, &loaded.sources, Look::default());
    assert_eq!(text, "0 errors, 0 pieces of advice\n");
}

#[test]
fn long_steps_and_long_how_tos() {
    let step = "how: [Shine the torch along the joint.]";
    let words = |count: usize| vec!["torch"; count].join(" ");
    let of = |steps: &[usize]| {
        let steps: Vec<String> = steps.iter().map(|count| words(*count) + ".").collect();
        format!("how: [{}]", steps.join(", "))
    };
    let found = only("how-to-too-long", &[(step, &of(&[3, 26]))], "");
    assert_eq!(found.file, "_rules.yaml");
    assert_eq!(
        found.message,
        "step 2 of the check `look_at_joint` has 26 words"
    );
    let found = only("how-to-too-long", &[(step, &of(&[3, 3, 3, 3, 3, 3]))], "");
    assert_eq!(
        found.message,
        "the check `look_at_joint` takes 6 steps and 18 words to say"
    );
    let found = only("how-to-too-long", &[(step, &of(&[25, 25, 25, 16]))], "");
    assert_eq!(
        found.message,
        "the check `look_at_joint` takes 4 steps and 91 words to say"
    );
    assert_eq!(advice(&with(&[(step, &of(&[25, 25, 25, 15]))], "")), []);
    // The limits are the rules' own.
    let policy = "rules: 1\npolicy: {review: {words_per_step: 26}}\n";
    assert_eq!(advice(&with(&[(step, &of(&[3, 26]))], policy)), []);
}

#[test]
fn texts_that_are_hard_to_read() {
    let hard = "Subsequently investigate the deterioration of elastomeric components, \
                considering contamination originating from lubricating hydrocarbons, and renew it immediately thereafter.";
    let found = only(
        "hard-to-read",
        &[("repair: Renew it.", &format!("repair: \"{hard}\""))],
        "",
    );
    assert!(
        found
            .message
            .starts_with("the repair of `oil_softened` has a reading ease of")
    );
    let easy = "repair: \"Find out where the oil comes from. Stop it there. Then take the hose off and put a new one on.\"";
    assert_eq!(advice(&with(&[("repair: Renew it.", easy)], "")), []);
}

#[test]
fn reading_ease_is_that_of_published_examples() {
    for (text, ease, tolerance) in [
        (
            "The Australian platypus is seemingly a hybrid of a mammal and reptilian creature.",
            37.5,
            0.05,
        ),
        (
            "This sentence, taken as a reading passage unto itself, is being used to prove a point.",
            69.0,
            0.05,
        ),
        ("The cat sat on the mat.", 116.0, 0.2),
    ] {
        let found = Readable::of(text).ease();
        assert!((found - ease).abs() <= tolerance, "{text}: {found}");
    }
}

/// Kind: common practice (dictionaries). One in fifteen may be off, by one.
#[test]
fn syllables_are_those_of_dictionaries() {
    let words = "radiator 4 coolant 2 thermostat 3 pressure 2 gauge 1 gauges 2 hose 1 hoses 2 engine 2 \
        handle 2 hole 1 rusted 2 drained 1 valves 1 refractometer 5 being 2 carefully 4 overnight 3 exhaust 2 \
        cylinder 3 dioxide 3 area 3 manual 3 studied 2 quiet 2 aluminium 5 gasket 2 temperature 4 idle 2 \
        mirror 2 bubbles 2 flange 1 flanges 2 people 2 poisonous 3 tightened 2 loose 1 corroded 3 screwed 1 \
        continues 3 squeeze 1 guarantee 3 technician 3";
    let parts: Vec<&str> = words.split_whitespace().collect();
    let pairs: Vec<(&str, usize)> = (parts.chunks(2))
        .map(|pair| (pair[0], pair[1].parse().unwrap()))
        .collect();
    let off: Vec<_> = (pairs.iter())
        .map(|&(word, count)| (word, count, syllables(word)))
        .filter(|(_, count, found)| count != found)
        .collect();
    assert!(
        off.iter()
            .all(|(_, count, found)| count.abs_diff(*found) == 1),
        "{off:?}"
    );
    assert!(off.len() * 15 <= pairs.len(), "{off:?}");
}

#[test]
fn missing_cautions() {
    let calls = (
        "short: hot coolant}",
        "short: hot coolant, called_for_by: {tools: [torch], words: [dipstick]}}",
    );
    let given = (
        "tools: [torch]\n",
        "tools: [torch]\n    cautions: [scald]\n",
    );
    let found = only("caution-missing", &[calls, given], "");
    assert_eq!(
        found.message,
        "the check `oil_look` speaks of \"dipstick\" and does not give the caution `scald`"
    );
    let dipstick = (
        "how: [Pull the dipstick.]",
        "how: [Pull the dipstick.]\n    cautions: [scald]",
    );
    let found = only("caution-missing", &[calls, dipstick], "");
    assert_eq!(
        found.message,
        "the check `look_at_joint` takes a torch and does not give the caution `scald`"
    );
    assert_eq!(advice(&with(&[calls, given, dipstick], "")), []);
    // The set-up brings it too.
    let hot = (
        "how: [Pull the dipstick.]",
        "how: [Pull the dipstick.]\n    needs: {temperature: hot}",
    );
    assert_eq!(advice(&with(&[calls, given, hot], "")), []);
}

/// What leaks into something else is never wet where one looks: such a look would speak against it
/// (common practice).
#[test]
fn looks_at_what_stays_dry() {
    let cabin = (
        "  outside: {name: the outside,",
        "  cabin: {name: the cabin, pressure_bar: {standing: 0, load: 0}}\n  outside: {name: the outside,",
    );
    let inside = (
        "    name: hose\n    into: outside",
        "    name: hose\n    into: cabin",
    );
    let found = only("stays-dry", &[cabin, inside], "");
    assert_eq!(
        found.message,
        "the check `look_at_joint` looks whether the place is wet, and `hose` leaks into `cabin`: it stays dry where one looks, which would count against it"
    );
    // A look of its own is no better, nor one that lists more of its like than others.
    let own = "rules: 1\nchecks:\n  hose_look:\n    name: hose look\n    each: [hose]\n    occasion: marks\n    minutes: 1\n    ask: Wet?\n    how: [Look.]\n    because: It is so.\n    source: practice\n    answers: {dry: dry, wet: wet}\n    background: {wet: 3}\n    reads: [{wet: here, by_level: {seep: {wet: 30}, drip: {wet: 70}}}]\n";
    let told = advice(&with(&[cabin, inside], own));
    let stays_dry = told.iter().filter(|notice| notice.code == "stays-dry");
    assert_eq!(
        stays_dry
            .filter(|notice| notice.message.contains("`hose` leaks into `cabin`"))
            .count(),
        2
    );
}

#[test]
fn faults_that_cannot_arise_on_a_layout() {
    let only_alloy = (
        "name: pitted port\n",
        "name: pitted port\n        where: {metal: alloy}\n",
    );
    let another = (
        "  elsewhere: {kind: elsewhere, name: elsewhere}",
        "  elsewhere: {kind: elsewhere, name: elsewhere}
  hose_front: {kind: hose_end, name: its front end, zone: top, height_cm: 50, is: {metal: alloy}}",
    );
    assert_eq!(advice(&with(&[only_alloy, another], "")), []);
    let unstated = (
        "is: {metal: alloy}\n    joins",
        "is: {reach: open}\n    joins",
    );
    let found = only("cannot-arise", &[only_alloy, another, unstated], "");
    assert_eq!((found.file.as_str(), found.line), ("_layout.yaml", 14));
    assert_eq!(
        found.message,
        "`pitted_port` cannot arise at `hose_rear`: it does not state its `metal`"
    );
    // Stated, and another metal: no fault with a name is left there.
    let iron = (
        "is: {metal: alloy}\n    joins",
        "is: {metal: iron}\n    joins",
    );
    let found = only("cannot-arise", &[only_alloy, another, iron], "");
    assert_eq!(
        found.message,
        "no named fault of `hose_end` can arise at `hose_rear`"
    );
    let scaled = (
        "zones:\n",
        "scale: [{fault: hose.oil_softened, times: 2, because: oil drips}]\nzones:\n",
    );
    assert_eq!(advice(&with(&[scaled], "")), []);
    let gone = (
        "  hose: {kind: hose, name: the hose, zone: top, height_cm: 40}\n",
        "  hose: {kind: hose_end, name: the hose, zone: top, height_cm: 40}\n",
    );
    let found = advice(&with(&[scaled, gone], ""));
    let scales = |notice: &&NoticeView| {
        notice
            .message
            .contains("scales the fault `hose.oil_softened`")
    };
    assert_eq!(found.iter().filter(scales).count(), 1, "{found:#?}");
}

#[test]
fn checks_never_worth_asking() {
    let found = only("not-worth-asking", &[("{milky: 60}", "{milky: 3}")], "");
    assert!(
        found
            .message
            .starts_with("`oil_look` is never worth asking: its best reading tells 0.00")
    );
    let slower = |minutes: u32, crust: u32| {
        format!(
            "rules: 1
checks:
  look_again:
    name: \"look again at {{place}}\"
    each: [hose_end, hose, elsewhere, tester]
    occasion: marks
    minutes: {minutes}
    tools: [torch]
    ask: \"What do you see at {{place}}?\"
    how: [Shine the torch along the joint.]
    because: What leaks leaves marks.
    source: practice
    answers: {{dry: clean and dry, crust: a crust, wet: wet}}
    background: {{crust: 12, wet: 3}}
    reads:
      - wet: here
        by_level: {{seep: {{crust: {crust}, wet: 15}}, drip: {{crust: 15, wet: 60}}}}
"
        )
    };
    let found = only("not-worth-asking", &[], &slower(4, 40));
    assert_eq!(found.file, "added.yaml");
    assert!(
        found
            .message
            .contains("`look_at_joint` reads the same at least as well")
    );
    // Quicker, or telling more, it has its place.
    assert_eq!(advice(&with(&[], &slower(2, 40))), []);
    assert_eq!(advice(&with(&[], &slower(4, 80))), []);
}

#[test]
fn causes_that_nothing_separates() {
    let twin = |leaks: &str, more: &str| {
        format!(
            "      port_scored:
        name: scored port
        base: 0.5
        leaks: {{always: {leaks}}}
        shows: a groove along the port
        repair: Polish it round.
        because: A knife cuts it.
        source: practice{more}
  elsewhere:\n    name: elsewhere"
        )
    };
    let at = "  elsewhere:\n    name: elsewhere";
    let alike = twin("{seep: 30, drip: 8}", "");
    let found = only("nothing-separates", &[(at, &alike)], "");
    assert_eq!(found.file, "_rules.yaml");
    assert!(found.message.starts_with(
        "no check tells `hose_end.port_scored` from `hose_end.pitted_port` on `small_car`"
    ));
    let same = twin(
        "{seep: 30, drip: 8}",
        "\n        same_repair_as: pitted_port",
    );
    assert_eq!(advice(&with(&[(at, &same)], "")), []);
    let look = "rules: 1
checks:
  nail:
    name: \"nail across {place}\"
    each: [hose_end]
    minutes: 5
    ask: Does the nail catch?
    how: [Draw a nail round the port.]
    because: A groove catches it.
    source: practice
    answers: {smooth: smooth, catches: it catches}
    background: {catches: 5}
    reads: [{fault: port_scored, shows: {catches: 85}}]
";
    assert_eq!(advice(&with(&[(at, &alike)], look)), []);
}

fn shares(hose: f64, hose_end: f64, more: &str) -> String {
    format!(
        "rules: 1
shares:
  small_car:
    because: As remembered.
    source: judgement
    rows:
      - {{name: hoses, for: [hose], percent: {hose}{more}}}
      - {{name: hose ends, for: [hose_end], percent: {hose_end}}}
"
    )
}

/// The implied shares against vehicles drawn from the model, a second method; and the advice that
/// follows from them.
#[test]
fn shares_out_of_line() {
    let loaded = with(&[], &shares(50.0, 50.0, ""));
    let rules: &RuleBase = loaded.rules.as_ref().unwrap();
    let layout = &loaded.layouts[0];
    let graph = CausalGraph::expand(rules, layout).unwrap();
    let Implied {
        rows: implied,
        outside,
    } = implied_shares((rules, layout, &graph), &rules.shares[0]).unwrap();
    assert!((implied.iter().sum::<f64>() - 1.0).abs() < 1e-9 && outside.is_empty());
    let (mut random, mut counts) = (ChaCha8Rng::seed_from_u64(17), [0_u32; 2]);
    let truth = Truth::of(&graph, Strain::default(), 0);
    for _ in 0..3_000 {
        let drawn = draw_with_loss(rules, layout, &graph, &truth, &mut random).unwrap();
        for cause in drawn.sources(rules, layout, &graph) {
            let part = &layout.parts[graph.causes[cause].place.part].named.id;
            counts[0] += u32::from(part == "hose");
            counts[1] += u32::from(part == "hose_rear");
        }
    }
    let drawn = f64::from(counts[0]);
    let all = f64::from(counts[0] + counts[1]);
    let slack = 5.0 * (all * implied[0] * implied[1]).sqrt();
    assert!(all > 500.0, "{counts:?}");
    assert!(
        (drawn - all * implied[0]).abs() < slack,
        "{counts:?} against {implied:?}"
    );

    let near = |factor: f64| {
        let hose = (implied[0] * 100.0 * factor * 10.0).round() / 10.0;
        shares(hose, 100.0 - hose, "")
    };
    assert_eq!(advice(&with(&[], &near(1.05))), []);
    let found = advice(&with(&[], &near(0.5)));
    assert!(
        found
            .iter()
            .all(|notice| notice.code == "share-out-of-line"),
        "{found:?}"
    );
    assert_eq!((found[0].file.as_str(), found[0].line), ("added.yaml", 7));
    assert!(
        found[0]
            .help
            .as_ref()
            .unwrap()
            .contains("lower the base rates")
    );
    // A reason excuses a row; one that is not needed is told.
    let hose = (implied[0] * 50.0).round();
    let excused = shares(hose, 100.0 - hose, ", differs: oil drips on it");
    let of_first = advice(&with(&[], &excused))
        .iter()
        .filter(|notice| notice.line == 7)
        .count();
    assert_eq!(of_first, 0);
    let hose = (implied[0] * 100.0).round();
    let needless = shares(hose, 100.0 - hose, ", differs: oil drips on it");
    let found = only("share-out-of-line", &[], &needless);
    assert!(found.help.unwrap().contains("drop `differs:`"));
    // Without the report of a loss there is nothing to compare, and all other advice stays.
    let found = only(
        "not-worked-out",
        &[("    reports_loss: yes\n", "")],
        &shares(50.0, 50.0, ""),
    );
    assert!(found.message.contains("mark it with `reports_loss: yes`"));
    // A kind of part that no row names.
    let forgotten = "rules: 1
shares:
  small_car:
    because: As remembered.
    source: judgement
    rows: [{name: hose ends, for: [hose_end], percent: 100}]
";
    let found = only("share-out-of-line", &[], forgotten);
    assert!(
        found
            .message
            .contains("come from `hose`, which is in no row"),
        "{found:?}"
    );
}

#[test]
fn stated_shares_are_checked_like_all_else() {
    let code = |added: &str| {
        let loaded = with(&[], added);
        loaded.notices.codes().into_iter().collect::<Vec<_>>()
    };
    assert_eq!(code(&shares(50.0, 60.0, "")), ["out-of-range"]);
    assert_eq!(
        code(&shares(50.0, 50.0, "").replace("small_car", "small_van")),
        ["unknown-name"]
    );
    assert_eq!(
        code(&shares(50.0, 50.0, "").replace("for: [hose], ", "")),
        ["missing-key"]
    );
}

/// `--json` gives the same as data, and errors are shown in place of advice, with exit code 1.
#[test]
fn the_command_shows_advice_and_refuses_errors() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| {
        std::fs::write(folder.path().join(name), text).unwrap();
    };
    write("rules.yaml", &text("_rules.yaml"));
    write("layout.yaml", &text("_layout.yaml"));
    let place = folder.path().to_str().unwrap();
    let (exit, out, _) = told(&["rules", "review", "--rules", place, "--json"]);
    let view: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!((exit, view["errors"].as_u64()), (0, Some(0)));
    assert_eq!(view["notices"][0]["code"], "not-worth-asking");
    assert_eq!(view["notices"][0]["severity"], "advice");
    let (exit, out, _) = told(&["rules", "review", "--rules", place]);
    assert!(exit == 0 && out.contains("advice[not-worth-asking]") && out.contains("rules.yaml:"));
    write("broken.yaml", "rules: 1\ntoolz: {}\n");
    let (exit, out, _) = told(&["rules", "review", "--rules", place]);
    assert!(exit == 1 && out.contains("error[unknown-key]") && !out.contains("not-worth-asking"));
    let (exit, _, errors) = told(&["rules", "twins", "small_car", "--rules", place]);
    assert!(
        exit != 0 && errors.contains("error[unknown-key]"),
        "{errors}"
    );
}
