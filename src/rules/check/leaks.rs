//! Leak kinds, occasions, gathers, visibility and trail.

use crate::ids::Id;
use crate::notice::codes;
use crate::rules::base::{
    Gather, HiddenBy, LeakKind, Named, Occasion, RuleBase, Visibility, Where,
};
use crate::rules::check::context::Context;
use crate::rules::check::values::{Bounds, Owner};
use crate::rules::raw::{Entry, RawRules};

/// Chance that wetness runs on where the rules do not say.
const TRAIL_PASS: f64 = 0.5;

impl Context {
    /// Everything between leaks and signs.
    pub fn read_leaks(&mut self, raw: &RawRules, rules: &mut RuleBase) {
        for entry in &raw.leak_kinds {
            let kind = self.leak_kind(*entry);
            rules.leak_kinds.push(kind);
        }
        for entry in &raw.occasions {
            let occasion = self.occasion(*entry);
            rules.occasions.push(occasion);
        }
        for entry in &raw.gathers {
            let gather = self.gather(*entry, rules);
            rules.gathers.push(gather);
        }
        if let Some(entry) = raw.visibility {
            rules.visibility = self.visibility(entry);
        }
        rules.trail_pass = raw.trail.map_or(TRAIL_PASS, |entry| self.trail(entry));
    }

    fn leak_kind(&mut self, entry: Entry) -> LeakKind {
        let id = entry.key.text.clone();
        let mut kind = LeakKind {
            named: Named {
                id: id.clone(),
                name: String::new(),
            },
            hidden_by: None,
        };
        let Some(mut fields) = self.fields(entry.node, entry.key.span, "a leak kind") else {
            return kind;
        };
        kind.named = self.named(&id, &mut fields);
        if let Some(node) = fields.take("hidden_by")
            && let Some(mut hidden) = self.fields(node, node.span, "`hidden_by:`")
        {
            let gather = hidden.need("gather", &mut self.notices);
            let gather = gather.and_then(|it| self.tables.gathers.find_node(it, &mut self.notices));
            let from = hidden.need("from", &mut self.notices);
            let level = from.and_then(|it| self.tables.levels.find_node(it, &mut self.notices));
            if let (Some(level), Some(from)) = (level, from)
                && level.index() == 0
            {
                self.error(
                    codes::NORMAL_ANSWER,
                    from.span,
                    "the first level hides nothing",
                );
            }
            let listed = hidden.take("open");
            let open = self.ids(listed, |tables| &tables.leak_kinds);
            for item in self.list(listed) {
                if item.text() == Some(&id) {
                    let message = format!("`{id}` would hide itself");
                    self.error(codes::CYCLE, item.span, message);
                }
            }
            kind.hidden_by =
                gather
                    .zip(level)
                    .map(|(gather, from)| HiddenBy { gather, from, open });
            self.finish(hidden);
        }
        self.finish(fields);
        kind
    }

    fn occasion(&mut self, entry: Entry) -> Occasion {
        let id = entry.key.text.clone();
        let named = Named {
            id: id.clone(),
            name: String::new(),
        };
        let mut occasion = Occasion {
            named,
            kinds: Vec::new(),
            set_up: Vec::new(),
            lasting: false,
        };
        let Some(mut fields) = self.fields(entry.node, entry.key.span, "an occasion") else {
            return occasion;
        };
        occasion.named = self.named(&id, &mut fields);
        let kinds = fields.need("kinds", &mut self.notices);
        occasion.kinds = self.ids(kinds, |tables| &tables.leak_kinds);
        if let Some(node) = kinds
            && node.items().is_some_and(<[_]>::is_empty)
        {
            self.error(
                codes::EMPTY_TEXT,
                node.span,
                "an occasion on which nothing leaks shows nothing",
            );
        }
        let set_up = fields.take("set_up");
        occasion.set_up = self.needs(set_up);
        let lasting = fields.take("lasting");
        occasion.lasting = self.yes(lasting);
        self.finish(fields);
        occasion
    }

    fn gather(&mut self, entry: Entry, rules: &RuleBase) -> Gather {
        let id = entry.key.text.clone();
        let mut gather = Gather {
            named: Named {
                id: id.clone(),
                name: String::new(),
            },
            into: Vec::new(),
            enters: None,
            during: Vec::new(),
            only: Where::default(),
            kinds: Vec::new(),
            except: Vec::new(),
        };
        let Some(mut fields) = self.fields(entry.node, entry.key.span, "a gather") else {
            return gather;
        };
        gather.named = self.named(&id, &mut fields);
        let into = fields.take("into");
        gather.into = self.ids(into, |tables| &tables.spaces);
        if let Some(node) = fields.take("enters") {
            let what = self.text_or_empty(Some(node));
            let held: Vec<&str> = rules
                .spaces
                .iter()
                .filter_map(|space| space.holds.as_deref())
                .collect();
            if !held.contains(&what.as_str()) && !what.is_empty() {
                let notice = crate::rules::check::names::unknown(
                    "space that holds",
                    &what,
                    node.span,
                    &held,
                );
                self.notices.push(notice);
            }
            gather.enters = Some(what);
        }
        let during = fields.take("during");
        gather.during = self
            .ids(during, |tables| &tables.duties)
            .into_iter()
            .map(Id::index)
            .collect();
        if let (Some(node), None) = (during, &gather.enters) {
            self.error(
                codes::MISSING_KEY,
                node.span,
                "`during:` counts only with `enters:`",
            );
        }
        let condition = fields.take("where");
        gather.only = self.condition(condition, Owner::Part);
        let kinds = fields.take("kinds");
        gather.kinds = self.ids(kinds, |tables| &tables.kinds);
        let except = fields.take("except");
        gather.except = self.ids(except, |tables| &tables.kinds);
        self.finish(fields);
        gather
    }

    fn visibility(&mut self, entry: Entry) -> Visibility {
        let mut visibility = Visibility::default();
        let Some(mut fields) = self.fields(entry.node, entry.key.span, "`visibility:`") else {
            return visibility;
        };
        if let Some(node) = fields.take("seen") {
            visibility.seen = self.vary(node, Owner::Part, |context, node| {
                context.percent(node, Bounds::Closed)
            });
        }
        if let Some(node) = fields.take("under_cover") {
            visibility.under_cover = self.percent(node, Bounds::Closed);
        }
        self.finish(fields);
        visibility
    }

    fn trail(&mut self, entry: Entry) -> f64 {
        let Some(mut fields) = self.fields(entry.node, entry.key.span, "`trail:`") else {
            return TRAIL_PASS;
        };
        let passes = fields.need("passes", &mut self.notices);
        let passes = passes.map_or(TRAIL_PASS, |node| self.percent(node, Bounds::Closed));
        self.finish(fields);
        passes
    }
}
