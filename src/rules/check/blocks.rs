//! Blocks: findings that forbid set-ups. Read after the checks, whose answers raise them.

use crate::ids::CheckId;
use crate::notice::{Notice, codes};
use crate::rules::base::{Block, Named, RuleBase};
use crate::rules::check::context::Context;
use crate::rules::check::names::unknown;
use crate::rules::check::values::Owner;
use crate::rules::raw::{Entry, Node, RawRules};

impl Context {
    /// All blocks.
    pub fn read_blocks(&mut self, raw: &RawRules, rules: &mut RuleBase) {
        for entry in &raw.blocks {
            let block = self.block(*entry, rules);
            rules.blocks.push(block);
        }
    }

    fn block(&mut self, entry: Entry, rules: &RuleBase) -> Block {
        let id = entry.key.text.clone();
        let mut block = Block {
            named: Named {
                id: id.clone(),
                name: String::new(),
            },
            raised_by: Vec::new(),
            raised_where: None,
            forbids: Vec::new(),
            says: String::new(),
            until: String::new(),
        };
        let Some(mut fields) = self.fields(entry.node, entry.key.span, "a block") else {
            return block;
        };
        block.named = self.named(&id, &mut fields);
        let raised = fields.take("raised_by");
        for item in self.list(raised) {
            block.raised_by.extend(self.raised_by_answers(item, rules));
        }
        let raised_where = fields.take("raised_where");
        block.raised_where = raised_where.map(|node| self.condition(Some(node), Owner::Vehicle));
        if raised.is_none() && raised_where.is_none() {
            let message = "nothing raises this block";
            let help = "add `raised_by:` with a check's answers, or `raised_where:` with an attribute of the vehicle";
            self.notices
                .push(Notice::error(codes::MISSING_KEY, entry.key.span, message).help(help));
        }
        let forbids = fields.need("forbids", &mut self.notices);
        block.forbids = self.needs(forbids);
        let says = fields.need("says", &mut self.notices);
        block.says = self.text_or_empty(says);
        let until = fields.need("until", &mut self.notices);
        block.until = self.text_or_empty(until);
        self.finish(fields);
        block
    }

    pub(super) fn raised_by_answers(
        &mut self,
        item: &Node,
        rules: &RuleBase,
    ) -> Option<(CheckId, usize, Vec<usize>)> {
        let mut fields = self.fields(item, item.span, "an item of `raised_by:`")?;
        let check = fields.need("check", &mut self.notices);
        let check = check.and_then(|node| self.tables.checks.find_node(node, &mut self.notices));
        let sign_node = fields.take("sign");
        let answers_node = fields.need("answers", &mut self.notices);
        self.finish(fields);
        let check = check?;
        let signs = &rules.checks.get(check)?.signs;
        let sign = match sign_node {
            None if signs.len() == 1 => 0,
            None if signs.is_empty() => {
                let message = "a look over a zone has no answers of its own";
                let help =
                    "name the check that it does at each place: what its zone showed counts there";
                self.error_help(codes::WRONG_KIND, item.span, message, help);
                return None;
            }
            None => {
                let known: Vec<&str> = signs.iter().map(|sign| sign.named.id.as_str()).collect();
                let message = "the check has several signs: say which one";
                let help = format!("add `sign:`, one of: {}", known.join(", "));
                self.error_help(codes::MISSING_KEY, item.span, message, help);
                return None;
            }
            Some(node) => {
                let text = self.text_or_empty(Some(node));
                let found = signs.iter().position(|sign| sign.named.id == text);
                if found.is_none() && !text.is_empty() {
                    let known: Vec<&str> =
                        signs.iter().map(|sign| sign.named.id.as_str()).collect();
                    self.notices.push(unknown("sign", &text, node.span, &known));
                }
                found?
            }
        };
        let mut positions = Vec::new();
        for node in self.list(answers_node) {
            let text = self.text_or_empty(Some(node));
            match signs[sign]
                .answers
                .iter()
                .position(|answer| answer.id == text)
            {
                Some(at) => positions.push(at),
                None if text.is_empty() => {}
                None => {
                    let known: Vec<&str> = signs[sign]
                        .answers
                        .iter()
                        .map(|it| it.id.as_str())
                        .collect();
                    self.notices
                        .push(unknown("answer", &text, node.span, &known));
                }
            }
        }
        Some((check, sign, positions))
    }
}
