//! Conditions, kinds of part and their faults.

use crate::ids::{FaultId, Id, KindId, LeakKindId, LevelId, SpaceId};
use crate::notice::codes;
use crate::rules::base::{
    AfterRepair, Condition, Fault, Kind, Named, Raise, Raiser, Reason, RuleBase, Source, Vary,
    Where,
};
use crate::rules::check::context::Context;
use crate::rules::check::names::unknown;
use crate::rules::check::values::{Bounds, Owner};
use crate::rules::raw::{Entry, Fields, Node, RawRules};
use crate::source::Span;

/// Id of the fault that stands for what nobody named.
const OTHER: &str = "other";

impl Context {
    /// Conditions, kinds of part and faults.
    pub fn read_causes(&mut self, raw: &RawRules, rules: &mut RuleBase) {
        for entry in &raw.conditions {
            let condition = self.condition_of_vehicle(*entry);
            rules.conditions.push(condition);
        }
        for (at, entry) in raw.parts.iter().enumerate() {
            let kind = self.kind(KindId::from_index(at), *entry, rules);
            rules.kinds.push(kind);
        }
    }

    fn condition_of_vehicle(&mut self, entry: Entry) -> Condition {
        let id = entry.key.text.clone();
        let mut condition = Condition {
            named: Named {
                id: id.clone(),
                name: String::new(),
            },
            only: Where::default(),
            base: Vary::always(0.5),
            raised_by: Vec::new(),
            reason: Reason::default(),
            remedy: String::new(),
            comes_back: true,
            refill: None,
        };
        let mut spans = Vec::new();
        if let Some(mut fields) = self.fields(entry.node, entry.key.span, "a condition") {
            condition.named = self.named(&id, &mut fields);
            let only = fields.take("where");
            condition.only = self.condition(only, Owner::Vehicle);
            condition.base = self.base(&mut fields, Owner::Vehicle);
            condition.reason = self.reason(&mut fields);
            let raised = fields.take("raised_by");
            (condition.raised_by, spans) = self.raises(raised, None, &condition.reason);
            let remedy = fields.need("remedy", &mut self.notices);
            condition.remedy = self.text_or_empty(remedy);
            let comes_back = fields.take("comes_back");
            condition.comes_back = comes_back.is_none_or(|node| self.yes(Some(node)));
            condition.refill = fields.take("refill").and_then(|node| self.refill(node));
            self.finish(fields);
        }
        self.spots.condition_raises.push(spans);
        condition
    }

    fn base(&mut self, fields: &mut Fields<'_>, owner: Owner) -> Vary<f64> {
        match fields.need("base", &mut self.notices) {
            Some(node) => self.vary(node, owner, |context, node| {
                context.percent(node, Bounds::Closed)
            }),
            None => Vary::always(0.5),
        }
    }

    pub(super) fn raises(
        &mut self,
        node: Option<&Node>,
        kind: Option<KindId>,
        reason: &Reason,
    ) -> (Vec<Raise>, Vec<Span>) {
        let mut raises = Vec::new();
        let mut spans = Vec::new();
        for item in self.list(node) {
            let Some(mut fields) = self.fields(item, item.span, "an item of `raised_by:`") else {
                continue;
            };
            let by = self.raiser(&mut fields, kind);
            let owner = if kind.is_some() {
                Owner::Part
            } else {
                Owner::Vehicle
            };
            let strength = fields.need("strength", &mut self.notices);
            let strength = strength.map_or(Vary::always(0.5), |node| {
                self.vary(node, owner, |context, node| {
                    context.percent(node, Bounds::Closed)
                })
            });
            let reason = self.reason_or(&mut fields, reason);
            self.finish(fields);
            if let Some(by) = by {
                raises.push(Raise {
                    by,
                    strength,
                    reason,
                });
                spans.push(item.span);
            }
        }
        (raises, spans)
    }

    fn raiser(&mut self, fields: &mut Fields<'_>, kind: Option<KindId>) -> Option<Raiser> {
        let condition = fields.take("condition");
        let (fault, of) = if kind.is_some() {
            (fields.take("fault"), fields.take("of"))
        } else {
            (None, None)
        };
        match (condition, fault, kind) {
            (Some(node), None, _) => {
                if let Some(of) = of {
                    self.error(
                        codes::WRONG_KIND,
                        of.span,
                        "`of:` goes with `fault:`, a condition is the vehicle's",
                    );
                }
                self.tables
                    .conditions
                    .find_node(node, &mut self.notices)
                    .map(Raiser::Condition)
            }
            (None, Some(node), Some(kind)) => match of {
                None => self.fault_here(kind, node).map(Raiser::Fault),
                Some(of) => {
                    let role = self.role(&[kind], of)?;
                    let fault = self.fault_somewhere(node)?;
                    Some(Raiser::Partner { role, fault })
                }
            },
            (Some(_), Some(node), _) => {
                self.error(
                    codes::WRONG_KIND,
                    node.span,
                    "give either `condition:` or `fault:`, not both",
                );
                None
            }
            _ => {
                let wanted = if kind.is_some() {
                    "`condition:` or `fault:`"
                } else {
                    "`condition:`"
                };
                self.error(
                    codes::MISSING_KEY,
                    fields.at(),
                    format!("an item of `raised_by:` needs {wanted}"),
                );
                None
            }
        }
    }

    /// A fault of this kind of part, written plainly or as `kind.fault`.
    pub(super) fn fault_here(&mut self, kind: KindId, node: &Node) -> Option<FaultId> {
        let text = self.text_or_empty(Some(node));
        let own = format!("{}.", self.tables.kinds.name(kind));
        let found = self.fault_of(kind, text.strip_prefix(&own).unwrap_or(&text));
        if found.is_none() && !text.is_empty() {
            let what = format!("fault of `{}`", self.tables.kinds.name(kind));
            let notice = unknown(&what, &text, node.span, &self.faults_of(kind));
            self.notices.push(notice);
        }
        found
    }

    /// The id, as written, of a fault that at least one kind of part has.
    pub fn fault_somewhere(&mut self, node: &Node) -> Option<String> {
        let text = self.text_or_empty(Some(node));
        if self.faults.iter().any(|fault| fault.name == text) {
            return Some(text);
        }
        if !text.is_empty() {
            let known: Vec<&str> = self
                .faults
                .iter()
                .map(|fault| fault.name.as_str())
                .collect();
            let notice = unknown("fault", &text, node.span, &known);
            self.notices.push(notice);
        }
        None
    }

    /// A role that at least one of these kinds has.
    pub fn role(&mut self, kinds: &[KindId], node: &Node) -> Option<String> {
        let text = self.text_or_empty(Some(node));
        let known: Vec<&str> = kinds
            .iter()
            .flat_map(|kind| self.roles[kind.index()].iter().map(String::as_str))
            .collect();
        if known.contains(&text.as_str()) {
            return Some(text);
        }
        if !text.is_empty() {
            let notice = unknown("role", &text, node.span, &known);
            self.notices.push(notice);
        }
        None
    }

    fn kind(&mut self, id: KindId, entry: Entry, rules: &mut RuleBase) -> Kind {
        let written = entry.key.text.clone();
        let mut kind = Kind {
            named: Named {
                id: written.clone(),
                name: String::new(),
            },
            into: SpaceId::from_index(0),
            apart: false,
            no_leak: false,
            elsewhere: false,
            roles: self.roles[id.index()].clone(),
            faults: self
                .faults
                .enumerated()
                .filter(|(_, fault)| fault.kind == id)
                .map(|(id, _)| id)
                .collect(),
        };
        let Some(mut fields) = self.fields(entry.node, entry.key.span, "a kind of part") else {
            for _ in &kind.faults {
                self.empty_fault(rules, id);
            }
            return kind;
        };
        kind.named = self.named(&written, &mut fields);
        if let Some(node) = fields.need("into", &mut self.notices)
            && let Some(space) = self.tables.spaces.find_node(node, &mut self.notices)
        {
            kind.into = space;
        }
        let named_roles = fields.take("roles");
        for item in self.list(named_roles) {
            let role = self.text_or_empty(Some(item));
            self.check_name(&role, item.span, "role");
        }
        let apart = fields.take("apart");
        kind.apart = self.yes(apart);
        let no_leak = fields.take("no_leak");
        kind.no_leak = self.yes(no_leak);
        let elsewhere = fields.take("elsewhere");
        kind.elsewhere = self.yes(elsewhere);
        let other = fields.need("other", &mut self.notices);
        let faults = fields.take("faults");
        self.faults_of_kind(id, faults, rules);
        if let Some(node) = other
            && rules.faults.len() < self.faults.len()
            && self.faults[FaultId::from_index(rules.faults.len())].kind == id
        {
            let fault = self.other_fault(id, node, rules);
            rules.faults.push(fault);
        }
        self.finish(fields);
        kind
    }

    fn faults_of_kind(&mut self, id: KindId, node: Option<&Node>, rules: &mut RuleBase) {
        let Some(node) = node else { return };
        if self.fields(node, node.span, "`faults:`").is_none() {
            return;
        }
        let mut seen: Vec<&str> = Vec::new();
        for (key, node) in node.entries().unwrap_or_default() {
            if seen.contains(&key.text.as_str()) {
                continue;
            }
            seen.push(&key.text);
            if key.text == OTHER {
                let message = "`other` is the name of the unnamed fault";
                self.error_help(
                    codes::BAD_NAME,
                    key.span,
                    message,
                    "it stands at the kind, beside `faults:`",
                );
            } else {
                self.check_name(&key.text, key.span, "fault");
            }
            let fault = self.fault(id, Entry { key, node }, rules);
            rules.faults.push(fault);
        }
    }

    fn blank_fault(id: String, kind: KindId) -> Fault {
        Fault {
            named: Named {
                id,
                name: String::new(),
            },
            kind,
            other: false,
            only: Where::default(),
            base: Vary::always(0.5),
            raised_by: Vec::new(),
            leaks: Vec::new(),
            shows: String::new(),
            repair: String::new(),
            same_repair: None,
            after_repair: AfterRepair::default(),
            reason: Reason::default(),
        }
    }

    fn empty_fault(&mut self, rules: &mut RuleBase, kind: KindId) {
        rules.faults.push(Self::blank_fault(String::new(), kind));
        self.spots.fault_raises.push(Vec::new());
    }

    fn fault(&mut self, kind: KindId, entry: Entry, rules: &RuleBase) -> Fault {
        let mut fault = Self::blank_fault(entry.key.text.clone(), kind);
        let mut spans = Vec::new();
        if let Some(mut fields) = self.fields(entry.node, entry.key.span, "a fault") {
            fault.named = self.named(&entry.key.text, &mut fields);
            let only = fields.take("where");
            fault.only = self.condition(only, Owner::Part);
            fault.base = self.base(&mut fields, Owner::Part);
            fault.reason = self.reason(&mut fields);
            let raised = fields.take("raised_by");
            (fault.raised_by, spans) = self.raises(raised, Some(kind), &fault.reason);
            let leaks = fields.take("leaks");
            fault.leaks = self.leaks(leaks);
            let shows = fields.need("shows", &mut self.notices);
            fault.shows = self.text_or_empty(shows);
            let repair = fields.need("repair", &mut self.notices);
            self.repair(repair, kind, &mut fault, &rules.repairs.usual);
            let same = fields.take("same_repair_as");
            fault.same_repair = self.same_repair(same, &entry.key.text, kind);
            self.finish(fields);
        }
        self.spots.fault_raises.push(spans);
        fault
    }

    fn other_fault(&mut self, kind: KindId, node: &Node, rules: &RuleBase) -> Fault {
        let name = "another fault here".to_owned();
        let mut fault = Fault {
            named: Named {
                id: OTHER.to_owned(),
                name,
            },
            other: true,
            reason: Reason {
                because: "no list of faults is complete".into(),
                source: Source::Judgement,
            },
            ..Self::blank_fault(OTHER.to_owned(), kind)
        };
        if let Some(mut fields) = self.fields(node, node.span, "`other:`") {
            fault.base = self.base(&mut fields, Owner::Part);
            let leaks = fields.need("leaks", &mut self.notices);
            fault.leaks = self.leaks(leaks);
            fault.after_repair = rules.repairs.usual.clone();
            self.finish(fields);
        }
        self.spots.fault_raises.push(Vec::new());
        fault
    }

    /// Kind → level → chance; all of them add up to less than 100.
    fn leaks(&mut self, node: Option<&Node>) -> Vec<(LeakKindId, LevelId, f64)> {
        let Some(node) = node else { return Vec::new() };
        if self.fields(node, node.span, "`leaks:`").is_none() {
            return Vec::new();
        }
        let mut leaks = Vec::new();
        for (key, levels) in node.entries().unwrap_or_default() {
            let kind = self
                .tables
                .leak_kinds
                .find(&key.text, key.span, &mut self.notices);
            if self.fields(levels, levels.span, "a kind of leak").is_none() {
                continue;
            }
            for (key, chance) in levels.entries().unwrap_or_default() {
                let level = self
                    .tables
                    .levels
                    .find(&key.text, key.span, &mut self.notices);
                let chance = self.percent(chance, Bounds::Closed);
                let Some(level) = level else { continue };
                if level.index() == 0 {
                    let help = "what the chances leave over is \"present, not leaking\"";
                    self.error_help(
                        codes::NORMAL_ANSWER,
                        key.span,
                        "the first level is no leak",
                        help,
                    );
                } else if let Some(kind) = kind {
                    leaks.push((kind, level, chance));
                }
            }
        }
        let sum: f64 = leaks.iter().map(|(_, _, chance)| chance).sum();
        if sum >= 1.0 - 1e-9 {
            let message =
                format!("these chances add up to {:.4} %", sum * 100.0).replace(".0000", "");
            let help = "they must leave something over for \"present, not leaking\"";
            self.error_help(codes::ADDS_UP, node.span, message, help);
        }
        leaks
    }
}
