//! Layouts: one vehicle's parts, checked against the rule base.

use crate::ids::{AttributeId, CoverId, FaultId, Id, KindId, PartId, ZoneId};
use crate::notice::{Notice, codes};
use crate::rules::base::{Named, RuleBase};
use crate::rules::check::context::Context;
use crate::rules::check::names::{Names, bad_name, unknown};
use crate::rules::check::values::Bounds;
use crate::rules::layout::{Cover, Layout, Part, SOMEWHERE, Scale, Zone};
use crate::rules::raw::{Entry, Fields, LayoutFile, Node};
use crate::source::Span;

/// A layout and where its parts stand, for the checks of the whole.
#[derive(Debug)]
pub struct ReadLayout {
    /// The layout.
    pub layout: Layout,
    /// Where it is named.
    pub at: Span,
    /// Where each part is named.
    pub parts: Names<PartId>,
    /// Where each zone is named.
    pub zones: Names<ZoneId>,
    /// Where each cover is named.
    pub covers: Names<CoverId>,
    /// Where each item of each part's `runs_down_to` stands.
    pub runs: Vec<Vec<Span>>,
    /// `arrives:`, or the name.
    pub arrives: Span,
    /// Where each item of `scale:` stands.
    pub scales: Vec<Span>,
}

/// What the parts of a layout may name.
struct Around {
    zones: Names<ZoneId>,
    covers: Names<CoverId>,
    parts: Names<PartId>,
    trail: f64,
}

impl Context {
    /// One layout.
    pub fn layout(&mut self, file: LayoutFile, rules: &RuleBase) -> ReadLayout {
        let mut fields = file.fields;
        let mut layout = Layout::default();
        let id_node = fields.need("id", &mut self.notices);
        let at = id_node.map_or(fields.at(), |node| node.span);
        layout.named.id = self.text_or_empty(id_node);
        self.check_name(&layout.named.id, at, "layout");
        let name = fields.need("name", &mut self.notices);
        layout.named.name = self.text_or_empty(name);
        layout.about = fields
            .take("about")
            .map(|node| self.text_or_empty(Some(node)))
            .unwrap_or_default();
        let vehicle = fields.take("vehicle");
        layout.vehicle = self.attributes_of(vehicle, true);
        let litres = fields.need("coolant_litres", &mut self.notices);
        layout.coolant_litres = self.positive(litres, "litres of coolant");
        let air = fields.need("air_space_ml", &mut self.notices);
        layout.air_space_ml = self.positive(air, "the air space");
        if let Some(node) = fields.need("limits_psi", &mut self.notices)
            && self.fields(node, node.span, "`limits_psi:`").is_some()
        {
            for (key, node) in node.entries().unwrap_or_default() {
                let limit = self.limit_psi(node);
                layout.limits_psi.push((key.text.clone(), limit));
            }
        }
        let arrives = fields.take("arrives");
        layout.arrives = self.settings(arrives);
        let (zones, zone_entries) = self.table(&mut fields, "zones", "zone");
        for entry in zone_entries {
            let zone = self.zone(entry);
            layout.zones.push(zone);
        }
        let (covers, cover_entries) = self.table(&mut fields, "covers", "cover");
        for entry in cover_entries {
            let cover = self.cover(entry);
            layout.covers.push(cover);
        }
        let scale = fields.take("scale");
        let mut scales = Vec::new();
        for item in self.list(scale) {
            if let Some(scaled) = self.scale(item) {
                layout.scales.push(scaled);
                scales.push(item.span);
            }
        }
        if !fields.has("parts") {
            self.error(codes::MISSING_KEY, at, "a layout needs `parts:`");
        }
        let (parts, part_entries) = self.table(&mut fields, "parts", "part");
        self.finish(fields);
        let around = Around {
            zones,
            covers,
            parts,
            trail: rules.trail_pass,
        };
        let mut runs = Vec::new();
        for entry in part_entries {
            if entry.key.text == SOMEWHERE {
                let notice = bad_name(SOMEWHERE, entry.key.span, "part");
                let help = "the answer to a look over a zone where nobody saw where it begins";
                self.notices
                    .push(notice.help(format!("it is kept for {help}")));
            }
            let (part, spans) = self.part(entry, &around, rules);
            layout.parts.push(part);
            runs.push(spans);
        }
        let Around {
            zones,
            covers,
            parts,
            ..
        } = around;
        let arrives = arrives.map_or(at, |node| node.span);
        ReadLayout {
            layout,
            at,
            parts,
            zones,
            covers,
            runs,
            arrives,
            scales,
        }
    }

    /// A map of named things: its names and its entries, each name once.
    fn table<'n, I: Id>(
        &mut self,
        fields: &mut Fields<'n>,
        key: &'static str,
        what: &'static str,
    ) -> (Names<I>, Vec<Entry<'n>>) {
        let mut entries: Vec<Entry<'n>> = Vec::new();
        if let Some(node) = fields.take(key)
            && self
                .fields(node, node.span, "a list of named things")
                .is_some()
        {
            for (key, node) in node.entries().unwrap_or_default() {
                if entries.iter().all(|known| known.key.text != key.text) {
                    entries.push(Entry { key, node });
                }
            }
        }
        (
            Names::new(
                what,
                entries.iter().map(|entry| entry.key),
                &mut self.notices,
            ),
            entries,
        )
    }

    /// The value of every attribute: as written, else the default.
    fn attributes_of(&mut self, node: Option<&Node>, of_vehicle: bool) -> Vec<Option<usize>> {
        let own = |attribute: &crate::rules::base::Attribute| attribute.of_vehicle == of_vehicle;
        let mut values: Vec<Option<usize>> = self
            .attributes
            .iter()
            .map(|it| if own(it) { it.default } else { None })
            .collect();
        let Some(node) = node else { return values };
        if self
            .fields(node, node.span, "a map from attribute to value")
            .is_none()
        {
            return values;
        }
        for (key, value) in node.entries().unwrap_or_default() {
            let found: Option<AttributeId> =
                self.tables
                    .attributes
                    .find(&key.text, key.span, &mut self.notices);
            let Some(id) = found else { continue };
            if !self.attributes.get(id).is_some_and(own) {
                let owner = if of_vehicle {
                    "parts, not of the vehicle"
                } else {
                    "the vehicle, not of parts"
                };
                self.error(
                    codes::WRONG_OWNER,
                    key.span,
                    format!("`{}` is an attribute of {owner}", key.text),
                );
                continue;
            }
            values[id.index()] = self.attribute_value(id, value);
        }
        values
    }

    fn zone(&mut self, entry: Entry) -> Zone {
        let mut zone = Zone {
            named: Named {
                id: entry.key.text.clone(),
                name: String::new(),
            },
            needs: Vec::new(),
        };
        if let Some(mut fields) = self.fields(entry.node, entry.key.span, "a zone") {
            zone.named = self.named(&entry.key.text, &mut fields);
            let needs = fields.take("needs");
            zone.needs = self.needs(needs);
            self.finish(fields);
        }
        zone
    }

    fn cover(&mut self, entry: Entry) -> Cover {
        let named = Named {
            id: entry.key.text.clone(),
            name: String::new(),
        };
        let mut cover = Cover {
            named,
            hands: 0.0,
            needs: Vec::new(),
            guard: false,
        };
        if let Some(mut fields) = self.fields(entry.node, entry.key.span, "a cover") {
            cover.named = self.named(&entry.key.text, &mut fields);
            let hands = fields.need("hands", &mut self.notices);
            cover.hands = hands.map_or(0.0, |node| self.minutes(node));
            let needs = fields.take("needs");
            cover.needs = self.needs(needs);
            let guard = fields.take("guard");
            cover.guard = self.yes(guard);
            self.finish(fields);
        }
        cover
    }

    fn scale(&mut self, item: &Node) -> Option<Scale> {
        let mut fields = self.fields(item, item.span, "an item of `scale:`")?;
        let fault = fields.need("fault", &mut self.notices);
        let fault = fault.and_then(|node| self.fault_in_full(node));
        let times = fields.need("times", &mut self.notices);
        let times = self.positive(times, "a scale");
        let because = fields.need("because", &mut self.notices);
        let because = self.text_or_empty(because);
        self.finish(fields);
        fault.map(|fault| Scale {
            fault,
            times,
            because,
        })
    }

    /// A fault written as `kind.fault`.
    pub(super) fn fault_in_full(&mut self, node: &Node) -> Option<FaultId> {
        let text = self.text_or_empty(Some(node));
        let (kind, fault) = text.split_once('.').unwrap_or((&text, ""));
        let found = self
            .tables
            .kinds
            .get(kind)
            .and_then(|kind| self.fault_of(kind, fault));
        if found.is_none() && !text.is_empty() {
            let all: Vec<String> = self.faults.ids().map(|id| self.full_name(id)).collect();
            let known: Vec<&str> = all.iter().map(String::as_str).collect();
            self.notices
                .push(unknown("fault", &text, node.span, &known));
        }
        found
    }

    fn part(&mut self, entry: Entry, around: &Around, rules: &RuleBase) -> (Part, Vec<Span>) {
        let mut part = Part {
            named: Named {
                id: entry.key.text.clone(),
                name: String::new(),
            },
            kind: KindId::from_index(0),
            attributes: vec![None; self.attributes.len()],
            zone: None,
            cover: None,
            height_cm: 0.0,
            joins: Vec::new(),
            sizes: Vec::new(),
            runs_down_to: Vec::new(),
        };
        let mut spans = Vec::new();
        let Some(mut fields) = self.fields(entry.node, entry.key.span, "a part") else {
            return (part, spans);
        };
        part.named = self.named(&entry.key.text, &mut fields);
        let kind = fields.need("kind", &mut self.notices);
        let kind = kind.and_then(|node| self.tables.kinds.find_node(node, &mut self.notices));
        part.kind = kind.unwrap_or(part.kind);
        let zone = fields.take("zone");
        part.zone = zone.and_then(|node| around.zones.find_node(node, &mut self.notices));
        let cover = fields.take("cover");
        part.cover = cover.and_then(|node| around.covers.find_node(node, &mut self.notices));
        if let Some(node) = fields.take("height_cm") {
            part.height_cm = self.number_in(node, -1000.0, 10_000.0, "a height in centimetres");
        }
        let is = fields.take("is");
        part.attributes = self.attributes_of(is, false);
        let sizes = fields.take("sizes");
        part.sizes = self.sizes_of(sizes, rules);
        if let Some(node) = fields.take("joins") {
            part.joins = self.joins(node, kind, around, rules);
        }
        if let Some(node) = fields.take("runs_down_to") {
            (part.runs_down_to, spans) = self.runs_down(node, around);
        }
        self.finish(fields);
        (part, spans)
    }

    fn joins(
        &mut self,
        node: &Node,
        kind: Option<KindId>,
        around: &Around,
        rules: &RuleBase,
    ) -> Vec<(String, PartId)> {
        let mut joins: Vec<(String, PartId)> = Vec::new();
        if self.fields(node, node.span, "`joins:`").is_none() {
            return joins;
        }
        let kind = kind.and_then(|kind| rules.kinds.get(kind));
        for (key, other) in node.entries().unwrap_or_default() {
            let part = around.parts.find_node(other, &mut self.notices);
            if let Some(kind) = kind
                && !kind.roles.contains(&key.text)
            {
                let known: Vec<&str> = kind.roles.iter().map(String::as_str).collect();
                self.notices.push(unknown(
                    &format!("role of `{}`", kind.named.id),
                    &key.text,
                    key.span,
                    &known,
                ));
            } else if let Some(part) = part
                && joins.iter().all(|(role, _)| *role != key.text)
            {
                joins.push((key.text.clone(), part));
            }
        }
        joins
    }

    /// A list of places, or a map from place to chance.
    fn runs_down(&mut self, node: &Node, around: &Around) -> (Vec<(PartId, f64)>, Vec<Span>) {
        let mut runs: Vec<(PartId, f64)> = Vec::new();
        let mut spans = Vec::new();
        let mut add = |part: Option<PartId>, chance: f64, span: Span, context: &mut Self| {
            let Some(part) = part else { return };
            if runs.iter().any(|(known, _)| *known == part) {
                context.error(
                    codes::DUPLICATE_NAME,
                    span,
                    "the same place is listed twice",
                );
            } else {
                runs.push((part, chance));
                spans.push(span);
            }
        };
        if let Some(entries) = node.entries() {
            let _ = self.fields(node, node.span, "`runs_down_to:`");
            for (key, chance) in entries {
                let part = around.parts.find(&key.text, key.span, &mut self.notices);
                let chance = self.percent(chance, Bounds::Closed);
                add(part, chance, key.span, self);
            }
        } else {
            for item in self.list(Some(node)) {
                let part = around.parts.find_node(item, &mut self.notices);
                add(part, around.trail, item.span, self);
            }
        }
        (runs, spans)
    }

    /// Reports layouts that share an id.
    pub fn layouts_apart(&mut self, layouts: &[ReadLayout]) {
        for (at, one) in layouts.iter().enumerate() {
            let id = &one.layout.named.id;
            if let Some(first) = layouts[..at]
                .iter()
                .find(|other| other.layout.named.id == *id && !id.is_empty())
            {
                let message = format!("two layouts have the id `{id}`");
                self.notices.push(
                    Notice::error(codes::DUPLICATE_NAME, one.at, message)
                        .label(first.at, "the first"),
                );
            }
        }
    }
}
