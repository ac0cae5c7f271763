//! What a review measures against: its limits and the stated shares.

use crate::ids::FaultId;
use crate::notice::codes;
use crate::rules::base::{ReviewLimits, RuleBase, ShareRow, Shares};
use crate::rules::check::context::Context;
use crate::rules::check::layouts::ReadLayout;
use crate::rules::check::names::unknown;
use crate::rules::check::values::Bounds;
use crate::rules::raw::{Entry, Node, RawRules};
use crate::source::Span;

/// How far the shares of a table may add up to something else than 1.
const ROUNDED: f64 = 0.011;

impl Context {
    /// `review:` of the policy.
    pub(super) fn review_limits(&mut self, node: &Node) -> ReviewLimits {
        let mut limits = ReviewLimits::default();
        let Some(mut fields) = self.fields(node, node.span, "`review:`") else {
            return limits;
        };
        for (key, into) in [
            ("words_per_step", &mut limits.words_per_step),
            ("steps_per_how_to", &mut limits.steps_per_how_to),
            ("words_per_how_to", &mut limits.words_per_how_to),
            ("graded_from_words", &mut limits.graded_from_words),
        ] {
            if let Some(node) = fields.take(key) {
                *into = self.count(node);
            }
        }
        for (key, into, low, high, what) in [
            (
                "reading_ease",
                &mut limits.reading_ease,
                0.0,
                100.0,
                "a reading ease",
            ),
            (
                "told_apart_bits",
                &mut limits.told_apart_bits,
                0.0,
                1.0,
                "bits",
            ),
            (
                "worth_asking_bits",
                &mut limits.worth_asking_bits,
                0.0,
                1.0,
                "bits",
            ),
            (
                "share_factor",
                &mut limits.share_factor,
                1.0,
                100.0,
                "times",
            ),
        ] {
            if let Some(node) = fields.take(key) {
                *into = self.number_in(node, low, high, what);
            }
        }
        self.finish(fields);
        limits
    }

    fn count(&mut self, node: &Node) -> usize {
        let number = node.text().and_then(|text| text.trim().parse().ok());
        let Some(number) = number.filter(|number| (1..=1000).contains(number)) else {
            self.wrong_kind("a whole number from 1 to 1000", node);
            return 1;
        };
        number
    }

    /// The fault of the same kind of part whose repair this one shares.
    pub(super) fn same_repair(
        &mut self,
        node: Option<&Node>,
        own: &str,
        kind: crate::ids::KindId,
    ) -> Option<FaultId> {
        let node = node?;
        let found = self.fault_here(kind, node)?;
        if self.faults[found].name == own {
            self.error(
                codes::CYCLE,
                node.span,
                "a fault has the same repair as itself",
            );
            return None;
        }
        Some(found)
    }

    /// The stated shares, each of a layout.
    pub fn read_shares(&mut self, raw: &RawRules, rules: &mut RuleBase, layouts: &[ReadLayout]) {
        for entry in &raw.shares {
            let (shares, spans) = self.shares(*entry, rules, layouts);
            rules.shares.push(shares);
            self.spots.share_rows.push(spans);
        }
    }

    fn shares(
        &mut self,
        entry: Entry,
        rules: &RuleBase,
        layouts: &[ReadLayout],
    ) -> (Shares, Vec<Span>) {
        let mut shares = Shares::of(entry.key.text.clone());
        let mut spans = Vec::new();
        let ids: Vec<&str> = (layouts.iter())
            .map(|read| read.layout.named.id.as_str())
            .collect();
        // Rules are also written, and tried, without their layouts.
        if !ids.is_empty() && !ids.contains(&entry.key.text.as_str()) {
            self.notices
                .push(unknown("layout", &entry.key.text, entry.key.span, &ids));
        }
        let Some(mut fields) = self.fields(entry.node, entry.key.span, "stated shares") else {
            return (shares, spans);
        };
        shares.reason = self.reason(&mut fields);
        let reported = fields.take("reported");
        for item in self.list(reported) {
            let answer = self.text_or_empty(Some(item));
            self.known_report(&answer, item, rules);
            shares.reported.push(answer);
        }
        let rows = fields.need("rows", &mut self.notices);
        for item in self.list(rows) {
            if let Some(row) = self.share_row(item) {
                spans.push(item.span);
                shares.rows.push(row);
            }
        }
        self.finish(fields);
        let sum: f64 = shares.rows.iter().map(|row| row.share).sum();
        if (sum - 1.0).abs() > ROUNDED {
            let message = format!(
                "the shares of `{}` add up to {:.1}",
                shares.layout,
                sum * 100.0
            );
            self.error_help(
                codes::OUT_OF_RANGE,
                entry.key.span,
                message,
                "they are percent of all reported losses: 100 together",
            );
        }
        (shares, spans)
    }

    /// Reports an answer that no report of a loss has, or that reports none.
    fn known_report(&mut self, answer: &str, node: &Node, rules: &RuleBase) {
        let reports = rules.checks.iter().filter(|check| check.reports_loss);
        let signs = reports.flat_map(|check| &check.signs);
        let losses = signs.flat_map(|sign| sign.answers.iter().skip(1));
        let known: Vec<&str> = losses.map(|answer| answer.id.as_str()).collect();
        if !known.contains(&answer) {
            self.notices.push(unknown(
                "answer of the report of a loss",
                answer,
                node.span,
                &known,
            ));
        }
    }

    fn share_row(&mut self, item: &Node) -> Option<ShareRow> {
        let mut fields = self.fields(item, item.span, "a row of shares")?;
        let name = fields.need("name", &mut self.notices);
        let name = self.text_or_empty(name);
        let of = self.selector(&mut fields);
        if of.kinds.is_empty() && of.faults.is_empty() {
            let message = "a row of shares names its kinds of part or faults: `for:`";
            self.error(codes::MISSING_KEY, item.span, message);
        }
        let share = fields.need("percent", &mut self.notices);
        let share = share.map_or(0.0, |node| self.percent(node, Bounds::Closed));
        let differs = fields
            .take("differs")
            .map(|node| self.text_or_empty(Some(node)));
        self.finish(fields);
        Some(ShareRow {
            name,
            of,
            share,
            differs,
        })
    }
}
