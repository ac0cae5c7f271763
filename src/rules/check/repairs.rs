//! Repairs, refills, the retest and dry spells.

use crate::ids::KindId;
use crate::notice::codes;
use crate::rules::base::{
    AfterRepair, Check, DryDays, Fault, Named, Proof, Raiser, Refill, RuleBase, Vary,
};
use crate::rules::check::context::Context;
use crate::rules::check::values::{Bounds, Owner};
use crate::rules::raw::{Fields, Node, RawRules};

/// Largest volume, litres, and largest fall, mL, that are taken for meant.
const MOST_LITRES: f64 = 100.0;
const MOST_ML: f64 = 100_000.0;
/// Most top-ups that belong to a refill.
const MOST_TOP_UPS: usize = 10;

impl Context {
    /// What every repair and refill does: read before faults, which may say otherwise.
    pub fn read_repairs(&mut self, raw: &RawRules, rules: &mut RuleBase) {
        let Some(entry) = raw.repairs else { return };
        let Some(mut fields) = self.fields(entry.node, entry.key.span, "`repairs:`") else {
            return;
        };
        let reason = self.reason(&mut fields);
        let usual = rules.repairs.usual.clone();
        rules.repairs.usual = AfterRepair {
            fails: self.chance_of(fields.take("fails"), &usual.fails),
            new: self.chance_of(fields.take("new"), &usual.new),
            disturbs: Vec::new(),
            reason,
        };
        let leaves = fields.take("leaves");
        rules.repairs.leaves = self.settings(leaves);
        let leaves = fields.take("refill_leaves");
        rules.repairs.refill_leaves = self.settings(leaves);
        let settles = fields.take("settles");
        self.finish(fields);
        let Some(node) = settles else { return };
        let Some(mut fields) = self.fields(node, node.span, "`settles:`") else {
            return;
        };
        let repairs = &mut rules.repairs;
        if let Some(node) = fields.need("litres", &mut self.notices) {
            repairs.settles_litres = self.vary(node, Owner::Vehicle, |context, node| {
                context.range(node, 0.0, MOST_LITRES, "litres")
            });
        }
        if let Some(node) = fields.need("top_ups", &mut self.notices) {
            let count = self.number_in(node, 0.0, MOST_TOP_UPS as f64, "a number of top-ups");
            if count.fract() != 0.0 {
                self.wrong_kind("a whole number", node);
            }
            let same = |whole: &usize| (*whole as f64 - count).abs() < 0.5;
            repairs.settles_top_ups = (0..=MOST_TOP_UPS).find(same).unwrap_or(MOST_TOP_UPS);
        }
        repairs.settles_reason = self.reason(&mut fields);
        self.finish(fields);
    }

    fn chance_of(&mut self, node: Option<&Node>, usual: &Vary<f64>) -> Vary<f64> {
        node.map_or_else(
            || usual.clone(),
            |node| {
                self.vary(node, Owner::Part, |context, node| {
                    context.percent(node, Bounds::Closed)
                })
            },
        )
    }

    /// `repair:` of a fault: how it is done, or that and how it stands afterwards.
    pub fn repair(
        &mut self,
        node: Option<&Node>,
        kind: KindId,
        fault: &mut Fault,
        usual: &AfterRepair,
    ) {
        fault.after_repair = usual.clone();
        let Some(node) = node else { return };
        if node.entries().is_none() {
            fault.repair = self.text_or_empty(Some(node));
            return;
        }
        let Some(mut fields) = self.fields(node, node.span, "`repair:`") else {
            return;
        };
        let how = fields.need("how", &mut self.notices);
        fault.repair = self.text_or_empty(how);
        let reason = self.reason_or(&mut fields, &usual.reason);
        let disturbs = fields.take("disturbs");
        fault.after_repair = AfterRepair {
            fails: self.chance_of(fields.take("fails"), &usual.fails),
            new: self.chance_of(fields.take("new"), &usual.new),
            disturbs: self.raises(disturbs, Some(kind), &reason).0,
            reason,
        };
        let conditions = fault.after_repair.disturbs.iter();
        if conditions
            .filter(|raise| matches!(raise.by, Raiser::Condition(_)))
            .count()
            > 0
        {
            let message = "a repair disturbs faults, not conditions";
            self.error_help(codes::WRONG_KIND, node.span, message, "write `fault:`");
        }
        self.finish(fields);
    }

    /// `refill:` of a condition.
    pub fn refill(&mut self, node: &Node) -> Option<Refill> {
        let mut fields = self.fields(node, node.span, "`refill:`")?;
        let refill = Refill {
            from_share: self.refill_percent(&mut fields, "from_share"),
            fails: self.refill_percent(&mut fields, "fails"),
            new: self.refill_percent(&mut fields, "new"),
            weaker_than: fields.take("weaker_than").and_then(|node| {
                let mut fields = self.fields(node, node.span, "`weaker_than:`")?;
                let percent = fields.need("percent", &mut self.notices);
                let percent =
                    percent.map(|node| self.number_in(node, 0.0, 100.0, "a strength in per cent"));
                let brings = self.refill_percent(&mut fields, "brings");
                self.finish(fields);
                Some((percent?, brings))
            }),
        };
        self.finish(fields);
        Some(refill)
    }

    fn refill_percent(&mut self, fields: &mut Fields<'_>, key: &'static str) -> f64 {
        let node = fields.need(key, &mut self.notices);
        node.map_or(0.5, |node| self.percent(node, Bounds::Closed))
    }

    /// The checks that together prove a repair.
    pub fn read_retest(&mut self, raw: &RawRules, rules: &mut RuleBase) {
        for entry in &raw.retest {
            let Some(mut fields) = self.fields(entry.node, entry.key.span, "a part of the retest")
            else {
                continue;
            };
            let named: Named = self.named(&entry.key.text, &mut fields);
            let any_of = fields.need("any_of", &mut self.notices);
            let after = fields.take("for");
            let kinds = self.ids(after, |tables| &tables.kinds);
            let shows = fields.take("shows");
            let shows = self.text_or_empty(shows);
            let before_release = fields.take("before_release");
            let before_release = self.yes(before_release);
            let in_doubt = fields.take("in_doubt");
            let in_doubt = in_doubt.map(|node| self.number_in(node, 0.1, 99.0, "per cent") / 100.0);
            let items = self.list(any_of);
            let checks = items
                .into_iter()
                .filter_map(|item| self.tables.checks.find_node(item, &mut self.notices))
                .collect();
            self.check_name(&entry.key.text, entry.key.span, "part of the retest");
            self.finish(fields);
            rules.retest.push(Proof {
                named,
                checks,
                kinds,
                shows,
                before_release,
                in_doubt,
            });
        }
    }

    /// `dry_days:` of a check.
    pub fn dry_days(&mut self, node: &Node, check: &Check) -> Option<DryDays> {
        let mut fields = self.fields(node, node.span, "`dry_days:`")?;
        let gather = fields.need("gather", &mut self.notices);
        let notices = fields.need("notices_ml", &mut self.notices);
        let hours = fields.need("hours_a_day", &mut self.notices);
        let misses = self.refill_percent(&mut fields, "misses");
        self.finish(fields);
        if check.occasion.is_none() {
            self.error_help(
                codes::NOT_HERE,
                node.span,
                "days without loss speak of the leaks that are open on an occasion, and this check names none",
                "add `occasion:` to the check",
            );
            return None;
        }
        let gather = self.tables.gathers.find_node(gather?, &mut self.notices)?;
        let vary = |context: &mut Self, node: &Node, most: f64, what: &'static str| {
            context.vary(node, Owner::Vehicle, |context, node| {
                let value = context.number_in(node, 0.0, most, what);
                if value <= 0.0 {
                    let message = format!("{what} is above 0");
                    context.error(codes::OUT_OF_RANGE, node.span, message);
                }
                value
            })
        };
        Some(DryDays {
            gather,
            notices_ml: vary(self, notices?, MOST_ML, "a fall in mL"),
            hours_a_day: vary(self, hours?, 24.0, "hours a day"),
            misses,
        })
    }
}
