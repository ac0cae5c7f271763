//! What the user may type while a job is traced.
//!
//! In: one line. Out: a [`Line`]. Nothing is looked up here but the shape of the line.

/// A line as understood.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Line {
    /// An answer to the check that was proposed, with how sure and how much was seen.
    Answer(Said),
    /// A finding of another check: `CHECK[@PLACE] = ANSWER`.
    Finding(String, Said),
    /// A zone line: answers, each with the zones and places that show it.
    Zones(Vec<(String, Vec<String>)>),
    /// Pass on to the next best check.
    Skip,
    /// The steps of the check.
    How,
    /// Why a cause stands where it does; the likeliest without a name.
    Why(Option<String>),
    /// How a hunch stands; what is suspected as typed.
    Hunch(String),
    /// How the causes stand.
    Rank,
    /// The best checks.
    Next,
    /// What has been found so far.
    Log,
    /// Withdraw an entry; the last without a number.
    Withdraw(Option<usize>),
    /// The set-up is now so: facet and value.
    SetUp(Vec<(String, String)>),
    /// A set-up that names no facet, as typed after `now`.
    SetUpUnclear(String),
    /// No more questions of the complaint.
    Enough,
    /// Covers taken off.
    Off(Vec<String>),
    /// Covers put back on.
    On(Vec<String>),
    /// A cause that is certain: `FAULT@PLACE`.
    Confirmed(String),
    /// A cause that is ruled out.
    RuledOut(String),
    /// A repair: `FAULT@PLACE: HOW`.
    Repaired(String),
    /// A block that no longer holds.
    Cleared(String),
    /// Free text.
    Note(String),
    /// An entry as it stands in a job file: `{gauge: …}`.
    Written(String),
    /// What can be typed.
    Help,
    /// Stop here.
    Stop,
    /// An empty line.
    Nothing,
}

/// An answer as said.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Said {
    /// The answer.
    pub answer: String,
    /// "fairly" or "guess".
    pub sure: Option<&'static str>,
    /// "in part" or "not seen".
    pub seen: Option<&'static str>,
    /// Whether the check was done again.
    pub again: bool,
}

/// Words after an answer that tell how sure it is.
const SURENESS: [(&str, &str); 6] = [
    (", i think", "fairly"),
    (" i think", "fairly"),
    (" fairly sure", "fairly"),
    (" fairly", "fairly"),
    (" guess", "guess"),
    (" sure", "sure"),
];

/// What can be typed, with what it does; answers first.
pub(super) const HELP: [(&str, &str); 25] = [
    ("slow", "an answer, its beginning or its number"),
    ("slow fairly, slow guess", "an answer you are not sure of"),
    ("dry in part", "you saw only part of it"),
    ("not seen", "you could not see it"),
    (
        "can't tell, can't do",
        "it told you nothing; you can't do it",
    ),
    ("Enter", "leaves a question of the complaint out"),
    ("enough", "ends the questions of the complaint"),
    ("skip", "the next best check"),
    ("how", "the steps of this check"),
    ("why, why PLACE", "why it stands where it does"),
    (
        "hunch FAULT@PLACE",
        "how your hunch stands, and what would settle it",
    ),
    ("rank, next, log", "the places; the checks; what you noted"),
    ("undo, withdraw 3", "takes back your last line, or entry 3"),
    (
        "CHECK@PLACE = ANSWER",
        "any other finding; CHECK = ANSWER if it has no place",
    ),
    (
        "CHECK = ANSWER again",
        "done once more, not a changed answer: another week, another night",
    ),
    (
        "dry: ZONE; wet: PLACE",
        "whole zones at once, with exceptions",
    ),
    ("now temperature=hot", "the set-up as it is"),
    ("off COVER, on COVER", "a cover is off, or back on"),
    (
        "confirmed FAULT@PLACE",
        "found for sure; or `ruled out FAULT@PLACE`",
    ),
    (
        "repaired FAULT@PLACE: HOW",
        "repaired; what you find from then on is new",
    ),
    ("cleared BLOCK", "a block that no longer holds"),
    ("note TEXT", "anything else worth keeping"),
    (
        "loss: 1 L, days: 7",
        "a number, as in a job file; also refilled: 5 L, percent: 50 (or unknown); topped_up: 0.3 L",
    ),
    ("{gauge: …}", "any other measurement, as it stands there"),
    ("quit", "stops here; a job with a file is saved"),
];

/// Entries of a job file that are known by their first word even without braces.
const MEASURED: [&str; 7] = [
    "loss",
    "refilled",
    "topped_up",
    "cleaned",
    "dry_spell",
    "waiting",
    "handed_over",
];

/// Reads one line.
pub(super) fn read(line: &str) -> Line {
    let line = line.trim();
    let (word, rest) = line
        .split_once(char::is_whitespace)
        .map_or((line, ""), |(word, rest)| (word, rest.trim()));
    let named = |rest: &str| (!rest.is_empty()).then(|| rest.to_owned());
    match word {
        "" => return Line::Nothing,
        "skip" => return Line::Skip,
        "how" => return Line::How,
        "why" => return Line::Why(named(rest)),
        "hunch" => return Line::Hunch(rest.to_owned()),
        "rank" => return Line::Rank,
        "next" => return Line::Next,
        "log" => return Line::Log,
        "undo" => return Line::Withdraw(None),
        "withdraw" => return Line::Withdraw(rest.parse().ok()),
        "now" => return set_up(rest),
        "enough" => return Line::Enough,
        "off" if !rest.is_empty() => return Line::Off(list(rest)),
        "on" if !rest.is_empty() => return Line::On(list(rest)),
        "confirmed" => return Line::Confirmed(rest.to_owned()),
        "ruled" => return Line::RuledOut(rest.trim_start_matches("out").trim().to_owned()),
        "repaired" if !rest.is_empty() => return Line::Repaired(rest.to_owned()),
        "cleared" => return Line::Cleared(rest.to_owned()),
        "note" => return Line::Note(rest.to_owned()),
        "help" | "?" => return Line::Help,
        "quit" | "stop" => return Line::Stop,
        _ => {}
    }
    if line.starts_with('{') {
        return Line::Written(line.to_owned());
    }
    // As in a job file, the braces forgotten.
    if let Some((key, rest)) = line.split_once(':') {
        let key = key.trim().to_lowercase().replace(' ', "_");
        if MEASURED.contains(&key.as_str()) {
            return Line::Written(format!("{{{key}: {}}}", rest.trim()));
        }
    }
    if let Some(zones) = zones(line) {
        return Line::Zones(zones);
    }
    // `check@place = answer` has blanks or an @ before its sign; `place=answer` is an answer.
    if let Some((left, right)) = line.split_once('=')
        && (left.contains('@') || left.ends_with(' '))
    {
        return Line::Finding(left.trim().to_owned(), typed_answer(right));
    }
    Line::Answer(typed_answer(line))
}

/// An answer as typed: with how sure it is, and how it was seen.
pub(super) fn typed_answer(text: &str) -> Said {
    let mut answer = text.trim().trim_end_matches(['.', '!']).to_lowercase();
    let mut said = Said::default();
    if ["not seen", "can't see", "cant see"].contains(&answer.as_str()) {
        said.seen = Some("not");
        "cant_tell".clone_into(&mut said.answer);
        return said;
    }
    if let Some(before) = answer.strip_suffix(" again") {
        said.again = true;
        answer = before.trim().to_owned();
    }
    for (ending, sure) in SURENESS {
        if let Some(before) = answer.strip_suffix(ending) {
            said.sure = Some(sure);
            answer = before.trim().to_owned();
            break;
        }
    }
    if let Some(before) = answer.strip_suffix(" in part") {
        said.seen = Some("in part");
        answer = before.trim().to_owned();
    }
    said.answer = match answer.replace('\'', "").as_str() {
        "cant tell" | "dont know" | "no idea" => "cant_tell".to_owned(),
        "cant do" | "cant be done" => "cant_do".to_owned(),
        other => other.to_owned(),
    };
    said
}

/// `dry: top, below; wet: lower_hose_rear`.
fn zones(line: &str) -> Option<Vec<(String, Vec<String>)>> {
    let mut groups = Vec::new();
    for group in line.split(';').filter(|group| !group.trim().is_empty()) {
        let (answer, names) = group.split_once(':')?;
        groups.push((answer.trim().to_lowercase(), list(names)));
    }
    (!groups.is_empty()).then_some(groups)
}

fn list(text: &str) -> Vec<String> {
    text.split(',')
        .map(|name| name.trim().to_owned())
        .filter(|name| !name.is_empty())
        .collect()
}

/// `temperature=hot, lift=raised`: every item must be a pair.
fn set_up(text: &str) -> Line {
    let pair = |item: &str| {
        item.split_once('=')
            .map(|(facet, value)| (facet.trim().to_owned(), value.trim().to_owned()))
            .filter(|(facet, value)| !facet.is_empty() && !value.is_empty())
    };
    let close = text.replace(" =", "=").replace("= ", "=");
    let items = close.split([',', ' ']).filter(|item| !item.is_empty());
    match items.map(pair).collect::<Option<Vec<_>>>() {
        Some(pairs) if !pairs.is_empty() => Line::SetUp(pairs),
        _ => Line::SetUpUnclear(text.to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::{Line, Said, read};

    #[test]
    fn lines_are_told_apart() {
        assert_eq!(
            read("crust fairly sure"),
            Line::Answer(Said {
                answer: "crust".into(),
                sure: Some("fairly"),
                ..Said::default()
            })
        );
        assert_eq!(
            read("can't tell"),
            Line::Answer(Said {
                answer: "cant_tell".into(),
                ..Said::default()
            })
        );
        assert_eq!(
            read("dry in part"),
            Line::Answer(Said {
                answer: "dry".into(),
                seen: Some("in part"),
                ..Said::default()
            })
        );
        assert_eq!(
            read("level_week = same again"),
            Line::Finding(
                "level_week".into(),
                Said {
                    answer: "same".into(),
                    again: true,
                    ..Said::default()
                }
            )
        );
        assert!(matches!(
            read("not seen"),
            Line::Answer(Said {
                seen: Some("not"),
                ..
            })
        ));
        assert!(
            matches!(read("cap_on_adapter@cap = early"), Line::Finding(check, _) if check == "cap_on_adapter@cap")
        );
        assert!(matches!(
            read("oil=milky, oil_level=risen"),
            Line::Answer(_)
        ));
        let zones = vec![
            ("dry".to_owned(), vec!["top".to_owned(), "below".to_owned()]),
            ("wet".to_owned(), vec!["rear".to_owned()]),
        ];
        assert_eq!(read("dry: top, below; wet: rear"), Line::Zones(zones));
        assert_eq!(
            read("now temperature=hot"),
            Line::SetUp(vec![("temperature".to_owned(), "hot".to_owned())])
        );
        for unclear in ["now", "now hot", "now temperature=", "now hot, lift=raised"] {
            assert!(matches!(read(unclear), Line::SetUpUnclear(_)), "{unclear}");
        }
        assert_eq!(read("enough"), Line::Enough);
        assert_eq!(read("hunch @pump_seal"), Line::Hunch("@pump_seal".into()));
    }
}
