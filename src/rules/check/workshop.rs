//! Repair sheets and release.

use crate::ids::KindId;
use crate::notice::codes;
use crate::rules::base::{
    FillStep, Ground, KeepsBack, Note, ReleaseRules, RuleBase, Selector, SheetRules, Size, Takes,
    Told, Vary,
};
use crate::rules::check::context::Context;
use crate::rules::check::names::unknown;
use crate::rules::check::values::{Bounds, Owner};
use crate::rules::raw::{Fields, Node, RawRules};

/// Most mL a day that are taken for meant.
const MOST_ML: f64 = 1_000_000.0;
/// What a text for a repair may hold beside sizes and attributes.
const OF_REPAIR: [&str; 2] = ["place", "limit"];
/// What a step of filling may hold.
const OF_FILL: [&str; 6] = [
    "place",
    "limit",
    "litres",
    "percent",
    "concentrate",
    "water",
];

impl Context {
    /// The sizes that layouts may state.
    pub fn read_sizes(&mut self, raw: &RawRules, rules: &mut RuleBase) {
        for entry in &raw.sizes {
            let Some(mut fields) = self.fields(entry.node, entry.key.span, "a size") else {
                continue;
            };
            let named = self.named(&entry.key.text, &mut fields);
            self.check_name(&entry.key.text, entry.key.span, "size");
            let unit = fields.need("unit", &mut self.notices);
            let unknown = fields.need("unknown", &mut self.notices);
            rules.sizes.push(Size {
                named,
                unit: self.text_or_empty(unit),
                unknown: self.text_or_empty(unknown),
            });
            self.finish(fields);
        }
    }

    /// What stands on a repair sheet.
    pub fn read_sheet(&mut self, raw: &RawRules, rules: &mut RuleBase) {
        let Some(entry) = raw.repair_sheet else {
            return;
        };
        let Some(mut fields) = self.fields(entry.node, entry.key.span, "`repair_sheet:`") else {
            return;
        };
        let mut sheet = SheetRules::default();
        let takes = fields.take("takes");
        for item in self.list(takes) {
            sheet.takes.extend(self.takes(item));
        }
        let parts = fields.take("parts");
        sheet.parts = self.notes(parts, rules);
        let renew = fields.take("renew_with");
        sheet.renew_with = self.notes(renew, rules);
        sheet.coolant_stays = fields.take("coolant_stays").and_then(|node| {
            let mut fields = self.fields(node, node.span, "`coolant_stays:`")?;
            let of = self.selector(&mut fields);
            self.finish(fields);
            Some(of)
        });
        let own = fields.take("own_circuit");
        sheet.own_circuit = self.notes(own, rules);
        let percent = fields.take("fill_percent");
        sheet.fill_percent =
            percent.map(|node| self.number_in(node, 1.0, 100.0, "a strength in per cent"));
        let fill = fields.take("fill");
        for item in self.list(fill) {
            sheet.fill.extend(self.fill_step(item, rules));
        }
        let cautions = fields.take("cautions");
        for item in self.list(cautions) {
            let Some(mut fields) = self.fields(item, item.span, "a caution of a sheet") else {
                continue;
            };
            let of = self.selector(&mut fields);
            let caution = fields.need("caution", &mut self.notices);
            let caution =
                caution.and_then(|node| self.tables.cautions.find_node(node, &mut self.notices));
            sheet.cautions.extend(caution.map(|caution| (of, caution)));
            self.finish(fields);
        }
        self.finish(fields);
        rules.sheet = sheet;
    }

    /// `for:`, a list of kinds or of `kind.fault`, and `where:`.
    pub(super) fn selector(&mut self, fields: &mut Fields<'_>) -> Selector {
        let mut of = Selector::default();
        let listed = fields.take("for");
        for item in self.list(listed) {
            if item.text().is_some_and(|text| text.contains('.')) {
                of.faults.extend(self.fault_in_full(item));
            } else {
                let kind = self.tables.kinds.find_node(item, &mut self.notices);
                of.kinds.extend(kind);
            }
        }
        let only = fields.take("where");
        of.only = self.condition(only, Owner::Part);
        of
    }

    fn takes(&mut self, item: &Node) -> Option<Takes> {
        let mut fields = self.fields(item, item.span, "an item of `takes:`")?;
        let of = self.selector(&mut fields);
        let hands = fields.need("hands", &mut self.notices);
        let waiting = fields.take("waiting");
        let needs = fields.take("needs");
        let mut minutes = |node: Option<&Node>| {
            node.map_or(Vary::always(0.0), |node| {
                self.vary(node, Owner::Part, Self::minutes)
            })
        };
        let (hands, waiting) = (minutes(hands), minutes(waiting));
        let needs = self.needs(needs);
        self.finish(fields);
        Some(Takes {
            of,
            hands,
            waiting,
            needs,
        })
    }

    fn notes(&mut self, node: Option<&Node>, rules: &RuleBase) -> Vec<Note> {
        let mut notes = Vec::new();
        for item in self.list(node) {
            let Some(mut fields) = self.fields(item, item.span, "a text for some repairs") else {
                continue;
            };
            let of = self.selector(&mut fields);
            let says = fields.need("says", &mut self.notices);
            let says = self.filled_text(says, &OF_REPAIR, rules);
            self.finish(fields);
            notes.push(Note { of, says });
        }
        notes
    }

    fn fill_step(&mut self, item: &Node, rules: &RuleBase) -> Option<FillStep> {
        let mut fields = self.fields(item, item.span, "a step of filling")?;
        let each = fields.take("each");
        let each: Vec<KindId> = self.ids(each, |tables| &tables.kinds);
        let owner = if each.is_empty() {
            Owner::Vehicle
        } else {
            Owner::Part
        };
        let only = fields.take("where");
        let only = self.condition(only, owner);
        let says = fields.need("says", &mut self.notices);
        let says = self.filled_text(says, &OF_FILL, rules);
        self.finish(fields);
        Some(FillStep { each, only, says })
    }

    /// A text in which only known things stand between braces.
    fn filled_text(&mut self, node: Option<&Node>, plain: &[&str], rules: &RuleBase) -> String {
        let text = self.text_or_empty(node);
        for name in between_braces(&text) {
            let (role, own) = match name.split_once('.') {
                Some((role, own)) => (Some(role), own),
                None => (None, name),
            };
            let role_known = role.is_none_or(|role| {
                let mut roles = self.roles.iter().flatten();
                roles.any(|known| known == role)
            });
            let known = (role.is_none() && plain.contains(&own))
                || self.tables.attributes.get(own).is_some()
                || rules.sizes.iter().any(|size| size.named.id == own);
            if let (Some(node), false) = (node, known && role_known) {
                let words: Vec<&str> = (plain.iter().copied())
                    .chain(rules.sizes.iter().map(|size| size.named.id.as_str()))
                    .collect();
                let notice = unknown("thing to fill in", name, node.span, &words);
                self.notices.push(notice);
            }
        }
        text
    }

    /// When a vehicle may leave. Read after the blocks.
    pub fn read_release(&mut self, raw: &RawRules, rules: &mut RuleBase) {
        let Some(entry) = raw.release else { return };
        let Some(mut fields) = self.fields(entry.node, entry.key.span, "`release:`") else {
            return;
        };
        let mut release = ReleaseRules::default();
        let needs = fields.take("needs");
        release.needs = self.needs(needs);
        for (key, into) in [
            ("before", &mut release.before),
            ("watch", &mut release.watch),
            ("come_back", &mut release.come_back),
            ("stop", &mut release.stop),
        ] {
            let listed = fields.need(key, &mut self.notices);
            *into = self.told(listed);
        }
        if let Some(node) = fields.take("keeps_back")
            && self.fields(node, node.span, "`keeps_back:`").is_some()
        {
            for (key, node) in node.entries().unwrap_or_default() {
                self.check_name(&key.text, key.span, "ground to keep a vehicle back");
                let Some(mut fields) = self.fields(node, key.span, "a ground to keep back") else {
                    continue;
                };
                let kept = self.keeps_back(&key.text, &mut fields, rules);
                self.finish(fields);
                release.keeps_back.push(kept);
            }
        }
        self.finish(fields);
        rules.release = Some(release);
    }

    /// A list of texts, plain or each with its `where:`.
    fn told(&mut self, node: Option<&Node>) -> Vec<Told> {
        let mut told = Vec::new();
        for item in self.list(node) {
            if item.entries().is_none() {
                told.push(Told {
                    only: crate::rules::base::Where::default(),
                    says: self.text_or_empty(Some(item)),
                });
                continue;
            }
            let Some(mut fields) = self.fields(item, item.span, "a text for some vehicles") else {
                continue;
            };
            let only = fields.take("where");
            let only = self.condition(only, Owner::Vehicle);
            let says = fields.need("says", &mut self.notices);
            let says = self.text_or_empty(says);
            self.finish(fields);
            told.push(Told { only, says });
        }
        told
    }

    fn keeps_back(&mut self, id: &str, fields: &mut Fields<'_>, rules: &RuleBase) -> KeepsBack {
        let named = self.named(id, fields);
        let mut grounds = Vec::new();
        let blocks = fields.take("blocks");
        for item in self.list(blocks) {
            let text = self.text_or_empty(Some(item));
            let found = (rules.blocks.enumerated()).find(|(_, block)| block.named.id == text);
            if let Some((block, _)) = found {
                grounds.push(Ground::Block(block));
            } else if !text.is_empty() {
                let known: Vec<&str> = rules.blocks.iter().map(|it| it.named.id.as_str()).collect();
                let notice = unknown("block", &text, item.span, &known);
                self.notices.push(notice);
            }
        }
        let answers = fields.take("answers");
        for item in self.list(answers) {
            let answered = self.raised_by_answers(item, rules);
            grounds.extend(answered.map(|(check, sign, at)| Ground::Answer(check, sign, at)));
        }
        let into = fields.take("into");
        let level = fields.take("level");
        if into.is_some() || level.is_some() {
            let at_least = fields.need("at_least", &mut self.notices);
            let at_least = at_least.map_or(0.5, |node| self.percent(node, Bounds::Closed));
            if into.is_some() {
                let spaces = self.ids(into, |tables| &tables.spaces);
                grounds.push(Ground::Into(spaces, at_least));
            }
            let level =
                level.and_then(|node| self.tables.levels.find_node(node, &mut self.notices));
            grounds.extend(level.map(|level| Ground::Level(level, at_least)));
        }
        if let Some(node) = fields.take("loss_over_ml_a_day") {
            let most = self.vary(node, Owner::Vehicle, |context, node| {
                context.number_in(node, 0.0, MOST_ML, "mL a day")
            });
            grounds.push(Ground::LossOver(most));
        }
        if grounds.is_empty() {
            let help = "add `blocks:`, `answers:`, `into:`, `level:` or `loss_over_ml_a_day:`";
            let message = "nothing keeps a vehicle back on this ground";
            self.error_help(codes::MISSING_KEY, fields.at(), message, help);
        }
        let until_repaired = fields.take("until_repaired");
        let until_repaired = self.yes(until_repaired);
        let says = fields.need("says", &mut self.notices);
        let says = self.text_or_empty(says);
        KeepsBack {
            named,
            grounds,
            until_repaired,
            says,
        }
    }

    /// `sizes:` of a part: positions in the rules' list, and how large.
    pub fn sizes_of(&mut self, node: Option<&Node>, rules: &RuleBase) -> Vec<(usize, f64)> {
        let Some(node) = node else { return Vec::new() };
        if self.fields(node, node.span, "`sizes:`").is_none() {
            return Vec::new();
        }
        let mut sizes: Vec<(usize, f64)> = Vec::new();
        for (key, value) in node.entries().unwrap_or_default() {
            let known = rules
                .sizes
                .iter()
                .position(|size| size.named.id == key.text);
            if let Some(at) = known {
                let value = self.positive(Some(value), "a size");
                sizes.push((at, value));
            } else {
                let known: Vec<&str> = rules.sizes.iter().map(|it| it.named.id.as_str()).collect();
                let notice = unknown("size", &key.text, key.span, &known);
                self.notices.push(notice);
            }
        }
        sizes
    }
}

/// What stands between braces in a text, in order.
fn between_braces(text: &str) -> impl Iterator<Item = &str> {
    text.split('{')
        .skip(1)
        .filter_map(|rest| rest.split_once('}').map(|(name, _)| name))
}
