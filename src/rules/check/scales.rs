//! Scales, attributes, spaces and pressures.

use crate::ids::{Id, IdVec};
use crate::measure::ports::Thresholds;
use crate::notice::codes;
use crate::rules::base::{Attribute, Certainty, Level, Named, Policy, RuleBase, Space};
use crate::rules::check::context::Context;
use crate::rules::check::values::Bounds;
use crate::rules::raw::{Entry, Node, RawRules};

/// Largest leak rate, mL/min, and largest pressure, bar, that are taken for meant.
const HUGE: f64 = 1e6;

impl Context {
    /// Words for strengths: read first, since other values use them.
    pub fn read_strengths(&mut self, raw: &RawRules) {
        let mut strengths = Vec::new();
        for entry in &raw.strengths {
            strengths.push((
                entry.key.text.clone(),
                self.percent(entry.node, Bounds::Closed),
            ));
            self.check_name(&entry.key.text, entry.key.span, "strength");
        }
        self.strengths = strengths;
    }

    /// Attributes: read before everything that has a `where:`.
    pub fn read_attributes(&mut self, raw: &RawRules) {
        let mut attributes = IdVec::new();
        for entry in &raw.attributes {
            attributes.push(self.attribute(*entry));
        }
        self.attributes = attributes;
    }

    fn attribute(&mut self, entry: Entry) -> Attribute {
        let id = entry.key.text.clone();
        let Some(mut fields) = self.fields(entry.node, entry.key.span, "an attribute") else {
            return Attribute {
                named: Named {
                    id,
                    name: String::new(),
                },
                of_vehicle: false,
                values: Vec::new(),
                default: None,
            };
        };
        let named = self.named(&id, &mut fields);
        let of = fields.need("of", &mut self.notices);
        let of_vehicle = match of.map(|node| (node, node.text())) {
            Some((_, Some("vehicle"))) => true,
            None | Some((_, Some("part"))) => false,
            Some((node, _)) => {
                self.wrong_kind("`part` or `vehicle`", node);
                false
            }
        };
        let listed = fields.need("values", &mut self.notices);
        let mut values: Vec<String> = Vec::new();
        for item in self.list(listed) {
            let value = self.text_or_empty(Some(item));
            if values.contains(&value) && !value.is_empty() {
                self.error(
                    codes::DUPLICATE_NAME,
                    item.span,
                    format!("`{value}` is listed twice"),
                );
            }
            values.push(value);
        }
        let default = fields.take("default").and_then(|node| {
            let found = values
                .iter()
                .position(|value| Some(value.as_str()) == node.text());
            if found.is_none() {
                let message = "the default is none of the values";
                self.error_help(
                    codes::WRONG_VALUE,
                    node.span,
                    message,
                    format!("permitted: {}", values.join(", ")),
                );
            }
            found
        });
        self.finish(fields);
        Attribute {
            named,
            of_vehicle,
            values,
            default,
        }
    }

    /// Levels, certainty, policy, duties and spaces.
    pub fn read_scales(&mut self, raw: &RawRules, rules: &mut RuleBase) {
        if let Some(about) = raw.about {
            rules.about = self.text_or_empty(Some(about.node));
        }
        for (at, entry) in raw.levels.iter().enumerate() {
            let level = self.level(*entry, at == 0);
            rules.levels.push(level);
        }
        rules.strengths.clone_from(&self.strengths);
        if let Some(entry) = raw.certainty {
            rules.certainty = self.certainty(entry);
        }
        if let Some(entry) = raw.policy {
            rules.policy = self.policy(entry);
        }
        for entry in &raw.duties {
            let name = self.text_or_empty(Some(entry.node));
            rules.duties.push(Named {
                id: entry.key.text.clone(),
                name,
            });
        }
        let mut own = None;
        for (at, entry) in raw.spaces.iter().enumerate() {
            let (space, is_own) = self.space(*entry, raw);
            rules.spaces.push(space);
            match (is_own, own) {
                (true, None) => {
                    own = Some(entry.key.span);
                    rules.own_space = Some(Id::from_index(at));
                }
                (true, Some(_)) => {
                    self.error(
                        codes::DUPLICATE_NAME,
                        entry.key.span,
                        "only one space can be the coolant's `own`",
                    );
                }
                (false, _) => {}
            }
        }
    }

    fn level(&mut self, entry: Entry, first: bool) -> Level {
        let id = entry.key.text.clone();
        let mut level = Level {
            named: Named {
                id: id.clone(),
                name: String::new(),
            },
            ml_per_min: None,
            looks: String::new(),
        };
        let Some(mut fields) = self.fields(entry.node, entry.key.span, "a level") else {
            return level;
        };
        level.named = self.named(&id, &mut fields);
        if first {
            if let Some(node) = fields.take("ml_per_min") {
                self.error(
                    codes::NORMAL_ANSWER,
                    node.span,
                    "the first level is no leak: it has no rate",
                );
            }
        } else if let Some(node) = fields.need("ml_per_min", &mut self.notices) {
            level.ml_per_min = Some(self.range(node, 0.0, HUGE, "a rate"));
            if level
                .ml_per_min
                .is_some_and(|(low, high)| low <= 0.0 || low >= high)
            {
                self.error(
                    codes::OUT_OF_RANGE,
                    node.span,
                    "a band of rates is [lowest, highest], both above 0",
                );
            }
        }
        level.looks = fields
            .take("looks")
            .map(|node| self.text_or_empty(Some(node)))
            .unwrap_or_default();
        self.finish(fields);
        level
    }

    /// One number, or `[lowest, highest]`.
    pub(super) fn range(&mut self, node: &Node, low: f64, high: f64, what: &str) -> (f64, f64) {
        let Some(items) = node.items() else {
            let number = self.number_in(node, low, high, what);
            return (number, number);
        };
        let [from, to] = items else {
            self.wrong_kind("one number or [lowest, highest]", node);
            return (low, low);
        };
        let pair = (
            self.number_in(from, low, high, what),
            self.number_in(to, low, high, what),
        );
        if pair.0 > pair.1 {
            self.error(
                codes::OUT_OF_RANGE,
                node.span,
                "the lowest comes first: [lowest, highest]",
            );
        }
        pair
    }

    fn certainty(&mut self, entry: Entry) -> Certainty {
        let mut certainty = Certainty::default();
        let Some(mut fields) = self.fields(entry.node, entry.key.span, "`certainty:`") else {
            return certainty;
        };
        for (key, into) in [
            ("fairly", &mut certainty.fairly),
            ("guess", &mut certainty.guess),
            ("seen_in_part", &mut certainty.seen_in_part),
        ] {
            if let Some(node) = fields.take(key) {
                *into = self.percent(node, Bounds::Sign);
            }
        }
        self.finish(fields);
        certainty
    }

    fn policy(&mut self, entry: Entry) -> Policy {
        let mut policy = Policy::default();
        let Some(mut fields) = self.fields(entry.node, entry.key.span, "`policy:`") else {
            return policy;
        };
        if let Some(node) = fields.take("waiting_counts") {
            let counts = node.entries().unwrap_or_default();
            if counts.is_empty() {
                self.wrong_kind("a map from hurry to percent", node);
            } else {
                let each = counts.iter().map(|(key, node)| {
                    (
                        key.text.clone(),
                        self.number_in(node, 0.0, 10_000.0, "percent of a minute") / 100.0,
                    )
                });
                policy.waiting_counts = each.collect();
            }
        }
        for (key, into) in [
            ("named_at", &mut policy.named_at),
            ("another_below", &mut policy.another_below),
            ("shown_from", &mut policy.shown_from),
            ("dropped_below", &mut policy.dropped_below),
        ] {
            if let Some(node) = fields.take(key) {
                *into = self.percent(node, Bounds::Closed);
            }
        }
        if let Some(node) = fields.take("act_below_bits_per_hour") {
            policy.act_below_bits_per_hour = self.number_in(node, 0.0, 1000.0, "bits per hour");
        }
        if let Some(node) = fields.take("turning_minutes") {
            policy.turning_minutes = self.number_in(node, 0.0, 60.0, "minutes");
        }
        if let Some(node) = fields.take("asking_minutes") {
            policy.asking_minutes = self.number_in(node, 0.0, 60.0, "minutes");
        }
        if let Some(node) = fields.take("floor_bits_per_hour") {
            policy.floor_bits_per_hour = self.number_in(node, 0.0, 1000.0, "bits per hour");
        }
        if let Some(node) = fields.take("rival_leads") {
            policy.rival_leads = self.number_in(node, 1.0, 1000.0, "times");
        }
        if let Some(node) = fields.take("ports") {
            policy.ports = self.ports(node);
        }
        if let Some(node) = fields.take("review") {
            policy.review = self.review_limits(node);
        }
        if let Some(node) = fields.take("needless_repair") {
            let costs = node.entries().unwrap_or_default();
            if costs.is_empty() {
                self.wrong_kind("a map from kind of part, or `otherwise`, to cost", node);
            }
            for (key, node) in costs {
                let cost = self.number_in(node, 0.1, 1000.0, "right repairs put off");
                if key.text == "otherwise" {
                    policy.needless_repair = cost;
                } else if let Some(kind) =
                    self.tables
                        .kinds
                        .find(&key.text, key.span, &mut self.notices)
                {
                    policy.needless_repairs.push((kind, cost));
                }
            }
        }
        self.finish(fields);
        policy
    }

    /// Where the grades of a pitted port part.
    fn ports(&mut self, node: &Node) -> Thresholds {
        let mut ports = Thresholds::default();
        let Some(mut fields) = self.fields(node, node.span, "`ports:`") else {
            return ports;
        };
        for (key, into) in [
            ("hose_follows_mm", &mut ports.hose_follows_mm),
            ("sound_land_mm", &mut ports.sound_land_mm),
            ("dressing_takes_mm", &mut ports.dressing_takes_mm),
            ("build_up_mm", &mut ports.build_up_mm),
            ("wall_left_mm", &mut ports.wall_left_mm),
            ("hose_past_clamp_mm", &mut ports.hose_past_clamp_mm),
            ("set_back_mm", &mut ports.set_back_mm),
        ] {
            if let Some(node) = fields.take(key) {
                *into = self.number_in(node, 0.0, 50.0, "mm");
            }
        }
        if let Some(node) = fields.take("pitted_share") {
            ports.pitted_share = self.percent(node, Bounds::Closed);
        }
        self.finish(fields);
        ports
    }

    fn space(&mut self, entry: Entry, raw: &RawRules) -> (Space, bool) {
        let id = entry.key.text.clone();
        let pressures = vec![(0.0, 0.0); raw.duties.len()];
        let mut space = Space {
            named: Named {
                id: id.clone(),
                name: String::new(),
            },
            holds: None,
            pressure_bar: pressures,
        };
        let Some(mut fields) = self.fields(entry.node, entry.key.span, "a space") else {
            return (space, false);
        };
        space.named = self.named(&id, &mut fields);
        let own = fields.take("own");
        let own = self.yes(own);
        space.holds = fields
            .take("holds")
            .map(|node| self.text_or_empty(Some(node)));
        if let Some(node) = fields.need("pressure_bar", &mut self.notices)
            && self.fields(node, node.span, "`pressure_bar:`").is_some()
        {
            for (at, duty) in raw.duties.iter().enumerate() {
                if let Some(value) = node.get(&duty.key.text) {
                    space.pressure_bar[at] = self.range(value, -HUGE, HUGE, "a pressure");
                } else {
                    let message =
                        format!("the pressure for the duty `{}` is missing", duty.key.text);
                    self.error(codes::MISSING_KEY, node.span, message);
                }
            }
            for (key, _) in node.entries().unwrap_or_default() {
                self.tables
                    .duties
                    .find(&key.text, key.span, &mut self.notices);
            }
        }
        self.finish(fields);
        (space, own)
    }
}
