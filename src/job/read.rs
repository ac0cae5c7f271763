//! Job text → [`JobFile`].
//!
//! In: a file of a [`Sources`] table. Out: the job, or notices with line and column for all that
//! is not understood. Names of parts, checks and answers are looked up later, by `resolve`.

use crate::job::file::{AnswerGiven, Entry, Expect, Found, JobFile, Logged, Seen, Sure};
use crate::job::stands_at::StandsAt;
use crate::notice::{Notice, Notices, codes};
use crate::rules::raw::{Fields, Node, Value};
use crate::rules::read;
use crate::rules::suggest::help_for;
use crate::source::{SourceId, Sources, Span};

/// The version of job and shop files that is understood.
pub(super) const VERSION: &str = "1";

/// What an entry of the log can be, by its first key.
const ENTRIES: [&str; 21] = [
    "check",
    "set_up",
    "covers_off",
    "covers_on",
    "confirmed",
    "ruled_out",
    "withdrawn",
    "cleared",
    "note",
    "gauge",
    "coolant",
    "port",
    "loss",
    "repaired",
    "refilled",
    "cleaned",
    "topped_up",
    "dry_spell",
    "waiting",
    "handed_over",
    "closed",
];
/// What a repair may say beside itself, and what can stand by itself as well.
const BESIDE_A_REPAIR: [&str; 2] = ["refilled", "cleaned"];

impl JobFile {
    /// Reads a job.
    ///
    /// # Errors
    /// Everything that is not understood, in order of place.
    pub fn read(file: SourceId, sources: &Sources) -> Result<Self, Notices> {
        let mut reader = Reader::default();
        let tree = reader
            .open(file, sources, "job")
            .ok_or_else(|| reader.notices.clone())?;
        let job = reader.job(&tree);
        reader.finish(job)
    }
}

/// Reads values and keeps what is wrong with them.
#[derive(Debug, Default)]
pub(super) struct Reader {
    pub notices: Notices,
}

impl Reader {
    /// The tree of a file whose version is understood.
    pub fn open(&mut self, file: SourceId, sources: &Sources, kind: &str) -> Option<Node> {
        let tree = read::tree(file, sources)
            .map_err(|notice| self.notices.push(notice))
            .ok()?;
        match tree.get(kind) {
            Some(version) if version.text() == Some(VERSION) => return Some(tree),
            Some(version) => {
                let message = format!("this version of `{kind}` is not known");
                let help = format!("the known version is {VERSION}; a newer seepwise may know it");
                self.notices
                    .push(Notice::error(codes::UNKNOWN_VERSION, version.span, message).help(help));
            }
            None => {
                let help = format!("a {kind} file says `{kind}: {VERSION}` on its first line");
                let message = format!("the file does not say that it is a {kind} file");
                self.notices
                    .push(Notice::error(codes::UNKNOWN_VERSION, tree.span, message).help(help));
            }
        }
        None
    }

    /// What was read, if nothing is wrong with it.
    pub fn finish<T>(mut self, read: Option<T>) -> Result<T, Notices> {
        self.notices.sort();
        match read {
            Some(read) if self.notices.errors() == 0 => Ok(read),
            _ => Err(self.notices),
        }
    }

    fn job(&mut self, tree: &Node) -> Option<JobFile> {
        let mut fields = Fields::of(tree, tree.span, "a job", &mut self.notices)?;
        fields.take("job");
        let title = fields.take("title");
        let layout = fields.need("layout", &mut self.notices);
        let (complaint, about) = (fields.take("complaint"), fields.take("about"));
        let (log, expect) = (fields.take("log"), fields.take("expect"));
        fields.finish(&mut self.notices);
        Some(JobFile {
            title: self.text_or_none(title),
            layout: layout
                .map(|node| self.word(node, "the id of a layout"))
                .unwrap_or_default(),
            complaint: self.text_or_none(complaint),
            about: self.text_or_none(about),
            log: self
                .list(log, "the log")
                .iter()
                .filter_map(|node| self.logged(node))
                .collect(),
            expect: expect.and_then(|node| self.expect(node)),
        })
    }

    fn logged(&mut self, node: &Node) -> Option<Logged> {
        let mut fields = Fields::of(node, node.span, "an entry of the log", &mut self.notices)?;
        let mut kinds: Vec<&'static str> = ENTRIES
            .into_iter()
            .filter(|kind| fields.has(kind))
            .collect();
        if kinds.contains(&"repaired") {
            kinds.retain(|kind| !BESIDE_A_REPAIR.contains(kind));
        }
        let [kind] = kinds[..] else {
            let (message, help) = if kinds.is_empty() {
                let written = node
                    .entries()
                    .and_then(|entries| entries.first())
                    .map_or("", |(key, _)| &key.text);
                (
                    "this entry does not say what it is".to_owned(),
                    help_for(written, &ENTRIES),
                )
            } else {
                let message = format!("this entry is two things at once: {}", kinds.join(" and "));
                (
                    message,
                    Some("write two entries, each with its own `-`".to_owned()),
                )
            };
            self.notices
                .push(Notice::error(codes::UNKNOWN_KEY, node.span, message).maybe_help(help));
            return None;
        };
        let before = fields.take("before_repair");
        let before_repair = before.and_then(|node| self.count(node));
        let entry = self.entry(kind, &mut fields);
        fields.finish(&mut self.notices);
        Some(Logged {
            entry: entry?,
            at: Some(node.span),
            before_repair,
        })
    }

    fn entry(&mut self, kind: &'static str, fields: &mut Fields<'_>) -> Option<Entry> {
        let value = fields.take(kind)?;
        Some(match kind {
            "check" => Entry::Found(self.found(value, fields)?),
            "set_up" => {
                let values = self.pairs(Some(value), "a set-up");
                if values.is_empty() {
                    self.wrong(
                        value.span,
                        codes::EMPTY_TEXT,
                        "a set-up names at least one facet, as in `{engine: running}`",
                    );
                }
                Entry::SetUp(values)
            }
            "covers_off" => Entry::CoversOff(self.words(Some(value), "covers")),
            "covers_on" => Entry::CoversOn(self.words(Some(value), "covers")),
            "confirmed" => Entry::Confirmed {
                cause: self.word(value, "a fault"),
                at: self.place(fields),
            },
            "ruled_out" => Entry::RuledOut {
                cause: self.word(value, "a fault"),
                at: self.place(fields),
            },
            "withdrawn" => Entry::Withdrawn(self.count(value)?),
            "cleared" => Entry::Cleared(self.word(value, "a block")),
            "gauge" => self.gauge(value, fields)?,
            "coolant" => self.coolant(value, fields)?,
            "port" => self.port(value, fields)?,
            "loss" => self.loss(value, fields)?,
            "repaired" => self.repaired(value, fields)?,
            "refilled" => Entry::Refilled(self.filled(value, fields)?),
            "cleaned" => Entry::Cleaned(self.words(Some(value), "places")),
            "topped_up" => Entry::ToppedUp(self.litres(value)?),
            "dry_spell" => self.dry_spell(value, fields)?,
            "waiting" => self.waiting(value, fields),
            "handed_over" => self.handed_over(value, fields),
            "closed" => self.closed(value, fields),
            _ => Entry::Note(self.text_or_none(Some(value))),
        })
    }

    pub(super) fn place(&mut self, fields: &mut Fields<'_>) -> Option<String> {
        fields.take("at").map(|node| self.word(node, "a place"))
    }

    fn found(&mut self, check: &Node, fields: &mut Fields<'_>) -> Option<Found> {
        let check = self.word(check, "a check");
        let at = self.place(fields);
        let sure = fields.take("sure");
        let seen = fields.take("seen");
        // A look that saw nothing needs no answer.
        let blind = seen.and_then(Node::text) == Some("not");
        let answer = if blind {
            fields.take("answer")
        } else {
            fields.need("answer", &mut self.notices)
        };
        let except = fields.take("except");
        let (not_seen, in_part) = (fields.take("not_seen"), fields.take("in_part"));
        let again = fields.take("again");
        let sure = self.one_of(
            sure,
            &[
                ("sure", Sure::Sure),
                ("fairly", Sure::Fairly),
                ("guess", Sure::Guess),
            ],
        );
        let again = self.one_of(again, &[("no", false), ("yes", true)]);
        let seen = self.one_of(
            seen,
            &[
                ("whole", Seen::Whole),
                ("in_part", Seen::InPart),
                ("not", Seen::Not),
            ],
        );
        let answer = match answer {
            None if seen == Seen::Not => AnswerGiven::default(),
            None => return None,
            Some(node) if matches!(node.value, Value::Map(_)) => {
                AnswerGiven::Several(self.pairs(Some(node), "an answer"))
            }
            Some(node) => AnswerGiven::One(self.word(node, "an answer")),
        };
        Some(Found {
            check,
            at,
            answer,
            sure,
            seen,
            except: self.pairs(except, "exceptions"),
            not_seen: self.words(not_seen, "places"),
            in_part: self.words(in_part, "places"),
            again,
        })
    }

    fn expect(&mut self, node: &Node) -> Option<Expect> {
        let mut fields = Fields::of(node, node.span, "what is expected", &mut self.notices)?;
        let first = fields.take("first");
        let among = fields.take("among_first");
        let percent = [
            "causes_at_least",
            "causes_at_most",
            "leaks_at_least",
            "leaks_at_most",
            "conditions_at_least",
            "sources_at_least",
        ]
        .map(|key| (key, fields.take(key)));
        let (next, blocked) = (fields.take("next_among"), fields.take("blocked"));
        fields.finish(&mut self.notices);
        let among_places = among.and_then(|node| node.get("places"));
        let lists = [
            ("first", first),
            ("among_first", among_places),
            ("next_among", next),
            ("blocked", blocked),
        ];
        let mut stands_at = StandsAt::default();
        for (key, node) in lists.into_iter().chain(percent) {
            stands_at.take_in(key, node);
        }
        let [
            causes_at_least,
            causes_at_most,
            leaks_at_least,
            leaks_at_most,
            conditions_at_least,
            sources_at_least,
        ] = percent.map(|(_, node)| self.percentages(node));
        Some(Expect {
            first: self.words(first, "places"),
            among_first: among.and_then(|node| self.among(node)),
            causes_at_least,
            causes_at_most,
            leaks_at_least,
            leaks_at_most,
            conditions_at_least,
            next_among: self.words(next, "checks"),
            blocked: self.words(blocked, "blocks"),
            sources_at_least,
            stands_at,
        })
    }

    fn among(&mut self, node: &Node) -> Option<(usize, Vec<String>)> {
        let mut fields = Fields::of(node, node.span, "`among_first`", &mut self.notices)?;
        let count = fields.need("n", &mut self.notices);
        let places = fields.need("places", &mut self.notices);
        fields.finish(&mut self.notices);
        Some((self.count(count?)?, self.words(places, "places")))
    }

    fn percentages(&mut self, node: Option<&Node>) -> Vec<(String, f64)> {
        let Some(node) = node else { return Vec::new() };
        let Some(fields) = Fields::of(node, node.span, "a map of percentages", &mut self.notices)
        else {
            return Vec::new();
        };
        let mut read = Vec::new();
        for (key, value) in fields.into_entries() {
            match value
                .text()
                .and_then(|text| text.trim().parse::<f64>().ok())
            {
                Some(percent) if (0.0..=100.0).contains(&percent) => {
                    read.push((key.text.clone(), percent));
                }
                Some(_) => self.wrong(
                    value.span,
                    codes::OUT_OF_RANGE,
                    "a percentage lies between 0 and 100",
                ),
                None => self.wrong(
                    value.span,
                    codes::WRONG_KIND,
                    "a percentage is a number, as in `40`",
                ),
            }
        }
        read
    }

    fn count(&mut self, node: &Node) -> Option<usize> {
        let count = node
            .text()
            .and_then(|text| text.trim().parse::<usize>().ok())
            .filter(|count| *count > 0);
        if count.is_none() {
            self.wrong(
                node.span,
                codes::WRONG_KIND,
                "a whole number from 1 up belongs here",
            );
        }
        count
    }

    /// One of a few words; the first where nothing is written.
    pub fn one_of<T: Copy>(&mut self, node: Option<&Node>, known: &[(&str, T)]) -> T {
        let Some(node) = node else { return known[0].1 };
        let written = node.text().unwrap_or("");
        if let Some((_, value)) = known.iter().find(|(word, _)| *word == written) {
            return *value;
        }
        let words: Vec<&str> = known.iter().map(|(word, _)| *word).collect();
        let message = format!("`{written}` is none of the words that can stand here");
        self.notices.push(
            Notice::error(codes::UNKNOWN_NAME, node.span, message)
                .maybe_help(help_for(written, &words)),
        );
        known[0].1
    }

    pub(super) fn wrong(&mut self, at: Span, code: &'static str, message: impl Into<String>) {
        self.notices.push(Notice::error(code, at, message));
    }

    /// A text, or nothing.
    pub(super) fn text_or_none(&mut self, node: Option<&Node>) -> String {
        let Some(node) = node else {
            return String::new();
        };
        if let Some(text) = node.text() {
            return text.to_owned();
        }
        self.wrong(
            node.span,
            codes::WRONG_KIND,
            format!("a text belongs here, not {}", node.kind_words()),
        );
        String::new()
    }

    /// A single value that is not empty.
    pub(super) fn word(&mut self, node: &Node, what: &str) -> String {
        match node.text() {
            Some(text) if !text.is_empty() => return text.to_owned(),
            _ => self.wrong(
                node.span,
                codes::WRONG_KIND,
                format!("{what} belongs here, not {}", node.kind_words()),
            ),
        }
        String::new()
    }

    pub(super) fn list<'n>(&mut self, node: Option<&'n Node>, what: &str) -> &'n [Node] {
        match node {
            None => &[],
            Some(node) if node.is_nothing() => &[],
            Some(node) => node.items().unwrap_or_else(|| {
                self.wrong(
                    node.span,
                    codes::WRONG_KIND,
                    format!("{what}: a list belongs here, not {}", node.kind_words()),
                );
                &[]
            }),
        }
    }

    /// A list of single values.
    pub fn words(&mut self, node: Option<&Node>, what: &str) -> Vec<String> {
        self.list(node, what)
            .iter()
            .map(|item| self.word(item, "a name"))
            .collect()
    }

    /// A map of single values.
    fn pairs(&mut self, node: Option<&Node>, what: &'static str) -> Vec<(String, String)> {
        let Some(node) = node else { return Vec::new() };
        let Some(fields) = Fields::of(node, node.span, what, &mut self.notices) else {
            return Vec::new();
        };
        let entries = fields.into_entries();
        entries
            .into_iter()
            .map(|(key, value)| (key.text.clone(), self.word(value, "a single word")))
            .collect()
    }
}
