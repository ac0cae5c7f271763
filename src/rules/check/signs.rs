//! Signs: answers, false alarms, and what pushes them.

use crate::ids::{ConditionId, Id, KindId};
use crate::notice::{Notice, codes};
use crate::rules::base::{Check, Named, Read, Reading, Reason, RuleBase, Scope, Sign, Vary};
use crate::rules::check::context::Context;
use crate::rules::check::names::unknown;
use crate::rules::check::values::{Bounds, Owner};
use crate::rules::raw::{Fields, Node};

/// The check a sign belongs to, as far as its sign must know.
#[derive(Debug)]
pub struct Asker {
    kinds: Option<Vec<KindId>>,
    has_occasion: bool,
    owner: Owner,
    levels: Vec<String>,
    reason: Reason,
}

impl Asker {
    /// What the signs of a check must know of it.
    pub fn new(check: &Check, owner: Owner, rules: &RuleBase) -> Self {
        let kinds = match &check.scope {
            Scope::Parts(kinds) => Some(kinds.clone()),
            Scope::Vehicle | Scope::Sweep(_) => None,
        };
        Self {
            kinds,
            has_occasion: check.occasion.is_some(),
            owner,
            levels: rules
                .levels
                .iter()
                .map(|level| level.named.id.clone())
                .collect(),
            reason: check.reason.clone(),
        }
    }
}

/// What one item of `reads:` reads.
struct Target {
    readings: Vec<Reading>,
    by_level: bool,
    owner: Owner,
}

impl Context {
    /// A sign from its `answers`, `background` and `reads`.
    pub fn sign(&mut self, named: Named, fields: &mut Fields<'_>, asker: &Asker) -> Sign {
        let mut answers: Vec<Named> = Vec::new();
        if let Some(node) = fields.need("answers", &mut self.notices)
            && self.fields(node, node.span, "`answers:`").is_some()
        {
            for (key, text) in node.entries().unwrap_or_default() {
                if answers.iter().any(|known| known.id == key.text) {
                    continue;
                }
                self.check_name(&key.text, key.span, "answer");
                let name = self.text_or_empty(Some(text));
                answers.push(Named {
                    id: key.text.clone(),
                    name,
                });
            }
            if answers.len() < 2 {
                self.error(
                    codes::EMPTY_TEXT,
                    node.span,
                    "a sign needs a normal answer and at least one other",
                );
            }
        }
        let background = match fields.need("background", &mut self.notices) {
            Some(node) => self.vary(node, asker.owner, |context, node| {
                context.background(node, &answers)
            }),
            None => Vary::always(vec![1.0; answers.len().min(1)]),
        };
        let mut reads = Vec::new();
        let listed = fields.need("reads", &mut self.notices);
        for item in self.list(listed) {
            self.read(item, &answers, asker, &mut reads);
        }
        if let Some(node) = listed
            && node.items().is_some_and(<[Node]>::is_empty)
        {
            self.error(
                codes::EMPTY_TEXT,
                node.span,
                "a sign that reads nothing tells nothing",
            );
        }
        Sign {
            named,
            answers,
            background,
            reads,
        }
    }

    /// A chance for every answer but the normal one, which takes the rest.
    fn background(&mut self, node: &Node, answers: &[Named]) -> Vec<f64> {
        let row = self.answer_row(node, answers);
        for answer in answers.iter().skip(1) {
            if node.entries().is_some() && node.get(&answer.id).is_none() {
                let message = format!("the false-alarm rate of `{}` is missing", answer.id);
                let help = "how often it is answered though nothing that the sign reads is there";
                self.error_help(codes::NO_FALSE_ALARM, node.span, message, help);
            }
        }
        row
    }

    /// A row of chances from a map of answer to strength; the normal answer takes the rest.
    fn answer_row(&mut self, node: &Node, answers: &[Named]) -> Vec<f64> {
        let mut row = vec![0.0; answers.len()];
        if self
            .fields(node, node.span, "a map from answer to strength")
            .is_none()
        {
            return row;
        }
        for (key, strength) in node.entries().unwrap_or_default() {
            let strength = self.percent(strength, Bounds::Sign);
            match answers.iter().position(|answer| answer.id == key.text) {
                None => {
                    let known: Vec<&str> =
                        answers.iter().map(|answer| answer.id.as_str()).collect();
                    let notice = unknown("answer", &key.text, key.span, &known);
                    self.notices.push(notice);
                }
                Some(0) => {
                    let message = format!(
                        "`{}` is the normal answer: it takes what the others leave",
                        key.text
                    );
                    self.error_help(codes::NORMAL_ANSWER, key.span, message, "leave it out");
                }
                Some(at) => row[at] = strength,
            }
        }
        let sum: f64 = row.iter().sum();
        if sum >= 1.0 - 1e-9 {
            let message = format!("these strengths add up to {} %", (sum * 1e6).round() / 1e4);
            self.error_help(
                codes::ADDS_UP,
                node.span,
                message,
                "they must leave something over for the normal answer",
            );
        }
        if let Some(first) = row.first_mut() {
            *first = (1.0 - sum).max(0.0);
        }
        row
    }

    fn read(&mut self, item: &Node, answers: &[Named], asker: &Asker, reads: &mut Vec<Read>) {
        let Some(mut fields) = self.fields(item, item.span, "an item of `reads:`") else {
            return;
        };
        let target = self.target(&mut fields, asker);
        let owner = target.as_ref().map_or(asker.owner, |target| target.owner);
        let only = fields.take("where");
        let only = self.condition(only, owner);
        let unless: Option<ConditionId> = fields
            .take("unless")
            .and_then(|node| self.tables.conditions.find_node(node, &mut self.notices));
        let reason = self.reason_or(&mut fields, &asker.reason);
        let by_level = fields.take_entry("by_level");
        let shows = fields.take_entry("shows");
        if let Some(target) = target {
            let (right, wrong, key) = if target.by_level {
                (by_level, shows, "by_level")
            } else {
                (shows, by_level, "shows")
            };
            if let Some((written, _)) = wrong {
                let message = if target.by_level {
                    "a leak has levels: say what each of them shows"
                } else {
                    "a fault or a condition is there or not: it has no levels"
                };
                self.error_help(
                    codes::WRONG_STATES,
                    written.span,
                    message,
                    format!("write `{key}:` here"),
                );
            }
            match right {
                Some((_, node)) => {
                    let push = self.vary(node, owner, |context, node| {
                        if target.by_level {
                            context.level_rows(node, answers, asker)
                        } else {
                            vec![context.answer_row(node, answers)]
                        }
                    });
                    for of in target.readings {
                        reads.push(Read {
                            of,
                            only: only.clone(),
                            push: push.clone(),
                            unless,
                            reason: reason.clone(),
                        });
                    }
                }
                None if wrong.is_none() => {
                    self.error(
                        codes::MISSING_KEY,
                        item.span,
                        format!("an item of `reads:` needs `{key}:`"),
                    );
                }
                None => {}
            }
        }
        self.finish(fields);
    }

    fn level_rows(&mut self, node: &Node, answers: &[Named], asker: &Asker) -> Vec<Vec<f64>> {
        if self.fields(node, node.span, "`by_level:`").is_none() {
            return Vec::new();
        }
        for (key, _) in node.entries().unwrap_or_default() {
            let level = self
                .tables
                .levels
                .find(&key.text, key.span, &mut self.notices);
            if level.is_some_and(|level| level.index() == 0) {
                let help = "what shows without a leak is the background";
                self.error_help(
                    codes::NORMAL_ANSWER,
                    key.span,
                    "the first level is no leak",
                    help,
                );
            }
        }
        let mut rows = Vec::new();
        for level in asker.levels.iter().skip(1) {
            if let Some(row) = node.get(level) {
                rows.push(self.answer_row(row, answers));
            } else {
                let message = format!("what the level `{level}` shows is missing");
                let help = format!("add `{level}: {{}}` if it shows no more than the background");
                self.error_help(codes::MISSING_KEY, node.span, message, help);
            }
        }
        rows
    }

    /// What an item reads: exactly one of the keys that name a node.
    fn target(&mut self, fields: &mut Fields<'_>, asker: &Asker) -> Option<Target> {
        let keys = ["wet", "leak", "gather", "fault", "condition"];
        let found: Vec<_> = keys
            .into_iter()
            .filter_map(|key| fields.take_entry(key))
            .collect();
        let of = fields.take("of");
        let [(key, node)] = found.as_slice() else {
            let message = format!(
                "an item of `reads:` needs exactly one of `{}:`",
                keys.join(":`, `")
            );
            self.error(
                codes::MISSING_KEY,
                found.get(1).map_or(fields.at(), |(key, _)| key.span),
                message,
            );
            return None;
        };
        if let Some(of) = of.filter(|_| key.text != "fault") {
            self.error(codes::UNKNOWN_KEY, of.span, "`of:` goes with `fault:` only");
        }
        let by_level = !matches!(key.text.as_str(), "fault" | "condition");
        if by_level && !asker.has_occasion {
            let message = format!("a check that reads a {} needs `occasion:`", key.text);
            self.error_help(
                codes::MISSING_KEY,
                key.span,
                message,
                "it says which leaks are open",
            );
        }
        let mut owner = asker.owner;
        let readings = match key.text.as_str() {
            "wet" => self.here(node, asker).map(|()| vec![Reading::WetHere]),
            "leak" if node.text() == Some("here") => {
                self.here(node, asker).map(|()| vec![Reading::LeakHere])
            }
            "leak" => {
                self.at_a_part(node, asker)?;
                self.role(asker.kinds.as_deref().unwrap_or_default(), node)
                    .map(|role| vec![Reading::LeakOf(role)])
            }
            "gather" => self
                .tables
                .gathers
                .find_node(node, &mut self.notices)
                .map(|gather| vec![Reading::Gather(gather)]),
            "condition" => {
                let found = self.tables.conditions.find_node(node, &mut self.notices);
                found.map(|condition| vec![Reading::Condition(condition)])
            }
            _ => {
                let readings = self.fault_reading(node, of, asker);
                if readings
                    .as_ref()
                    .is_some_and(|list| matches!(list.as_slice(), [Reading::FaultAnywhere(_)]))
                {
                    owner = Owner::Part;
                }
                readings
            }
        };
        Some(Target {
            readings: readings?,
            by_level,
            owner,
        })
    }

    fn here(&mut self, node: &Node, asker: &Asker) -> Option<()> {
        self.at_a_part(node, asker)?;
        if node.text() == Some("here") {
            return Some(());
        }
        self.wrong_kind("`here`", node);
        None
    }

    fn at_a_part(&mut self, node: &Node, asker: &Asker) -> Option<()> {
        if asker.kinds.is_some() {
            return Some(());
        }
        let message = "a check of the whole vehicle has no place of its own to read";
        let help = "give the check `each: [KIND]`, or read a gather or `fault: KIND.NAME`";
        self.error_help(codes::NOT_HERE, node.span, message, help);
        None
    }

    fn fault_reading(
        &mut self,
        node: &Node,
        of: Option<&Node>,
        asker: &Asker,
    ) -> Option<Vec<Reading>> {
        let text = self.text_or_empty(Some(node));
        if let Some((kind, fault)) = text.split_once('.') {
            if let Some(of) = of {
                self.error(
                    codes::UNKNOWN_KEY,
                    of.span,
                    "`KIND.NAME` is that fault everywhere: it takes no `of:`",
                );
            }
            let kind = self.tables.kinds.find(kind, node.span, &mut self.notices)?;
            let found = self.fault_of(kind, fault);
            if found.is_none() {
                let what = format!("fault of `{}`", self.tables.kinds.name(kind));
                let notice = unknown(&what, fault, node.span, &self.faults_of(kind));
                self.notices.push(notice);
            }
            return found.map(|fault| vec![Reading::FaultAnywhere(fault)]);
        }
        self.at_a_part(node, asker)?;
        let kinds = asker.kinds.as_deref().unwrap_or_default();
        if let Some(of) = of {
            let role = self.role(kinds, of)?;
            return self
                .fault_somewhere(node)
                .map(|fault| vec![Reading::FaultOf(role, fault)]);
        }
        let found: Vec<Reading> = kinds
            .iter()
            .filter_map(|kind| self.fault_of(*kind, &text))
            .map(Reading::FaultHere)
            .collect();
        if found.is_empty() && !text.is_empty() {
            let known: Vec<&str> = kinds
                .iter()
                .flat_map(|kind| self.faults_of(*kind))
                .collect();
            let mut notice = unknown("fault of the parts checked", &text, node.span, &known);
            if let Some(other) = self.faults.iter().find(|fault| fault.name == text) {
                let full = format!("{}.{text}", self.tables.kinds.name(other.kind));
                notice = notice.help(format!(
                    "`{full}` exists: write that to read it wherever it occurs"
                ));
            }
            self.notices.push(notice);
        }
        (!found.is_empty()).then_some(found)
    }

    /// The sign and answer that `sign.answer` means; the sign may be left out if there is one.
    pub fn sign_answer(&mut self, node: &Node, signs: &[Sign]) -> Option<(usize, usize)> {
        let text = self.text_or_empty(Some(node));
        let (sign, answer) = match (text.split_once('.'), signs) {
            (Some((sign, answer)), _) => (signs.iter().position(|it| it.named.id == sign), answer),
            (None, [_]) => (Some(0), text.as_str()),
            (None, _) => (None, text.as_str()),
        };
        let Some(sign) = sign else {
            let known: Vec<&str> = signs.iter().map(|sign| sign.named.id.as_str()).collect();
            let notice: Notice = unknown("sign", &text, node.span, &known)
                .help(format!("write SIGN.ANSWER; signs: {}", known.join(", ")));
            self.notices.push(notice);
            return None;
        };
        let found = signs[sign].answers.iter().position(|it| it.id == answer);
        if found.is_none() {
            let known: Vec<&str> = signs[sign]
                .answers
                .iter()
                .map(|it| it.id.as_str())
                .collect();
            let notice = unknown("answer", answer, node.span, &known);
            self.notices.push(notice);
        }
        found.map(|answer| (sign, answer))
    }
}
