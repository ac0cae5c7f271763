//! Facets, ways, set-ups that must never be, cautions, tools and the safe limit.

use crate::ids::FacetId;
use crate::notice::codes;
use crate::rules::base::{
    Caution, Facet, FacetValue, Named, Never, RuleBase, SetUpNeeds, Vary, Way, WhenLikely, Where,
};
use crate::rules::check::context::Context;
use crate::rules::check::names::unknown;
use crate::rules::check::values::{Bounds, Owner};
use crate::rules::raw::{Entry, Node, RawRules};

/// Highest test pressure that is taken for meant, psi.
pub const HIGHEST_LIMIT_PSI: f64 = 60.0;

impl Context {
    /// Everything about set-ups but blocks, which read checks.
    pub fn read_set_ups(&mut self, raw: &RawRules, rules: &mut RuleBase) {
        for entry in &raw.facets {
            let facet = self.facet(*entry);
            rules.facets.push(facet);
        }
        for entry in &raw.ways {
            let way = self.way(*entry);
            rules.ways.push(way);
        }
        for node in &raw.never {
            self.spots.never.push(node.span);
            let Some(mut fields) = self.fields(node, node.span, "an item of `never:`") else {
                continue;
            };
            let set_up_node = fields.need("set_up", &mut self.notices);
            let set_up = self.needs(set_up_node);
            if let Some(node) = set_up_node
                && node.entries().is_none_or(<[_]>::is_empty)
            {
                self.error(
                    codes::EMPTY_TEXT,
                    node.span,
                    "an empty set-up would forbid everything",
                );
            }
            let because = fields.need("because", &mut self.notices);
            rules.never.push(Never {
                set_up,
                because: self.text_or_empty(because),
            });
            self.finish(fields);
        }
        for entry in &raw.cautions {
            let caution = self.caution(*entry);
            rules.cautions.push(caution);
        }
        for entry in &raw.tools {
            let name = self.text_or_empty(Some(entry.node));
            rules.tools.push(Named {
                id: entry.key.text.clone(),
                name,
            });
        }
        rules.safe_limit_psi = raw.safe_limit_psi.map(|entry| {
            self.vary(entry.node, Owner::Vehicle, |context, node| {
                context.limit_psi(node)
            })
        });
    }

    /// A limit of the test pressure, psi.
    pub fn limit_psi(&mut self, node: &Node) -> f64 {
        match self.number(node) {
            Some(limit) if limit > 0.0 && limit <= HIGHEST_LIMIT_PSI => limit,
            Some(limit) => {
                let message = format!("a test pressure of {limit} psi is not plausible");
                let help = "a limit is above 0 and at most 60 psi; leave it out for a system vented to air";
                self.error_help(codes::UNSAFE_LIMIT, node.span, message, help);
                1.0
            }
            None => 1.0,
        }
    }

    /// What a set-up must be: one value or a list for each facet that matters.
    pub fn needs(&mut self, node: Option<&Node>) -> SetUpNeeds {
        let Some(node) = node else { return Vec::new() };
        if self.fields(node, node.span, "a set-up").is_none() {
            return Vec::new();
        }
        let mut needs: SetUpNeeds = Vec::new();
        for (key, wanted) in node.entries().unwrap_or_default() {
            let Some(facet) = self
                .tables
                .facets
                .find(&key.text, key.span, &mut self.notices)
            else {
                continue;
            };
            let mut values = Vec::new();
            for item in self.list(Some(wanted)) {
                values.extend(self.facet_value(facet, item));
            }
            if wanted.is_nothing() || wanted.items().is_some_and(<[Node]>::is_empty) {
                self.error(codes::EMPTY_TEXT, wanted.span, "a facet needs a value here");
            }
            values.sort_unstable();
            values.dedup();
            if !values.is_empty() && needs.iter().all(|(known, _)| *known != facet) {
                needs.push((facet, values));
            }
        }
        needs
    }

    /// The position of a facet's value.
    pub fn facet_value(&mut self, facet: FacetId, node: &Node) -> Option<usize> {
        use crate::ids::Id;
        let Some(text) = node.text() else {
            self.wrong_kind("a value of the facet", node);
            return None;
        };
        let values = &self.facet_values[facet.index()];
        let found = values.iter().position(|value| value == text);
        if found.is_none() {
            let known: Vec<&str> = values.iter().map(String::as_str).collect();
            let what = format!("value of `{}`", self.tables.facets.name(facet));
            let notice = unknown(&what, text, node.span, &known);
            self.notices.push(notice);
        }
        found
    }

    /// One value for each facet named: how a vehicle arrives, what a way changes.
    pub fn settings(&mut self, node: Option<&Node>) -> Vec<(FacetId, usize)> {
        let needs = self.needs(node);
        let several = needs.iter().any(|(_, values)| values.len() > 1);
        if let (Some(node), true) = (node, several) {
            self.wrong_kind("one value for each facet", node);
        }
        needs
            .into_iter()
            .map(|(facet, values)| (facet, values[0]))
            .collect()
    }

    fn facet(&mut self, entry: Entry) -> Facet {
        let id = entry.key.text.clone();
        let mut facet = Facet {
            named: Named {
                id: id.clone(),
                name: String::new(),
            },
            values: Vec::new(),
        };
        let Some(mut fields) = self.fields(entry.node, entry.key.span, "a facet") else {
            return facet;
        };
        facet.named = self.named(&id, &mut fields);
        if let Some(node) = fields.need("values", &mut self.notices) {
            let _ = self.fields(node, node.span, "`values:`");
            for (key, value) in node.entries().unwrap_or_default() {
                if facet.values.iter().any(|known| known.named.id == key.text) {
                    continue;
                }
                self.check_name(&key.text, key.span, "value");
                let value = self.value_of_facet(Entry { key, node: value });
                facet.values.push(value);
            }
            if facet.values.is_empty() {
                self.error(codes::EMPTY_TEXT, node.span, "a facet needs values");
            }
        }
        self.finish(fields);
        facet
    }

    fn value_of_facet(&mut self, entry: Entry) -> FacetValue {
        let id = entry.key.text.clone();
        let named = Named {
            id: id.clone(),
            name: String::new(),
        };
        let mut value = FacetValue {
            named,
            caution: None,
            hazard: false,
            blockable: false,
        };
        let Some(mut fields) = self.fields(entry.node, entry.key.span, "a value of a facet") else {
            return value;
        };
        value.named = self.named(&id, &mut fields);
        let caution = fields.take("caution");
        value.caution =
            caution.and_then(|node| self.tables.cautions.find_node(node, &mut self.notices));
        let hazard = fields.take("hazard");
        value.hazard = self.yes(hazard);
        let blockable = fields.take("blockable");
        value.blockable = self.yes(blockable);
        self.finish(fields);
        value
    }

    fn way(&mut self, entry: Entry) -> Way {
        let id = entry.key.text.clone();
        let mut way = Way {
            named: Named {
                id: id.clone(),
                name: String::new(),
            },
            only: Where::default(),
            needs: Vec::new(),
            to: Vec::new(),
            meanwhile: Vec::new(),
            hands: Vary::always(0.0),
            waiting: Vary::always(0.0),
            tools: Vec::new(),
            cautions: Vec::new(),
            how: Vec::new(),
        };
        self.spots.way_steps.push(Vec::new());
        let Some(mut fields) = self.fields(entry.node, entry.key.span, "a way") else {
            return way;
        };
        way.named = self.named(&id, &mut fields);
        let only = fields.take("where");
        way.only = self.condition(only, Owner::Vehicle);
        let needs = fields.take("needs");
        way.needs = self.needs(needs);
        let to = fields.need("to", &mut self.notices);
        way.to = self.settings(to);
        let meanwhile = fields.take("meanwhile");
        way.meanwhile = self.settings(meanwhile);
        if let Some(node) = fields.need("hands", &mut self.notices) {
            way.hands = self.vary(node, Owner::Vehicle, Self::minutes);
        }
        if let Some(node) = fields.take("waiting") {
            way.waiting = self.vary(node, Owner::Vehicle, Self::minutes);
        }
        let tools = fields.take("tools");
        way.tools = self.ids(tools, |tables| &tables.tools);
        let cautions = fields.take("cautions");
        way.cautions = self.ids(cautions, |tables| &tables.cautions);
        let how = fields.need("how", &mut self.notices);
        way.how = self.steps(how);
        let steps = self.step_spans(how);
        if let Some(last) = self.spots.way_steps.last_mut() {
            *last = steps;
        }
        self.finish(fields);
        way
    }

    fn caution(&mut self, entry: Entry) -> Caution {
        let id = entry.key.text.clone();
        let named = Named {
            id: id.clone(),
            name: String::new(),
        };
        let mut caution = Caution {
            named,
            full: String::new(),
            short: String::new(),
            for_tools: Vec::new(),
            for_words: Vec::new(),
            or_given: Vec::new(),
            when_likely: None,
            guard_off_before: Vec::new(),
        };
        let Some(mut fields) = self.fields(entry.node, entry.key.span, "a caution") else {
            return caution;
        };
        caution.named = self.named(&id, &mut fields);
        let full = fields.need("full", &mut self.notices);
        caution.full = self.text_or_empty(full);
        let short = fields.need("short", &mut self.notices);
        caution.short = self.text_or_empty(short);
        if let Some(node) = fields.take("called_for_by")
            && let Some(mut fields) = self.fields(node, node.span, "`called_for_by:`")
        {
            let tools = fields.take("tools");
            caution.for_tools = self.ids(tools, |tables| &tables.tools);
            let unless = fields.take("unless");
            caution.or_given = self.ids(unless, |tables| &tables.cautions);
            let words = fields.take("words");
            for item in self.list(words) {
                let word = self.text_or_empty(Some(item));
                caution.for_words.push(word.to_lowercase());
            }
            self.finish(fields);
        }
        let likely = fields.take("when_likely");
        caution.when_likely = likely.and_then(|node| self.when_likely(node));
        let before = fields.take("guard_off_before");
        caution.guard_off_before = self.needs(before);
        self.finish(fields);
        caution
    }

    fn when_likely(&mut self, node: &Node) -> Option<WhenLikely> {
        let mut fields = self.fields(node, node.span, "`when_likely:`")?;
        let into = fields.need("into", &mut self.notices);
        let at_least = fields.need("at_least", &mut self.notices);
        let before = fields.need("before", &mut self.notices);
        let likely = WhenLikely {
            into: self.ids(into, |tables| &tables.spaces),
            at_least: at_least.map_or(1.0, |node| self.percent(node, Bounds::Closed)),
            before: self.needs(before),
        };
        self.finish(fields);
        Some(likely)
    }
}
