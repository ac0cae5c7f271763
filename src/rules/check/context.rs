//! What every step of the check shares: names, notices, and where things stand.

use crate::ids::{
    AttributeId, BlockId, CautionId, CheckId, ConditionId, FacetId, FaultId, GatherId, Id, IdVec,
    KindId, LeakKindId, LevelId, OccasionId, SpaceId, ToolId, WayId,
};
use crate::notice::{Notice, Notices};
use crate::rules::base::{Attribute, Named};
use crate::rules::check::names::{Names, bad_name, is_name};
use crate::rules::raw::{Fields, Node, RawRules};
use crate::source::Span;

/// The name tables of the whole rule base.
/// Each field is the table of the thing it is called after.
#[derive(Debug)]
pub struct Tables {
    pub levels: Names<LevelId>,
    pub attributes: Names<AttributeId>,
    pub duties: Names<SpaceId>,
    pub spaces: Names<SpaceId>,
    pub leak_kinds: Names<LeakKindId>,
    pub occasions: Names<OccasionId>,
    pub gathers: Names<GatherId>,
    pub facets: Names<FacetId>,
    pub ways: Names<WayId>,
    pub cautions: Names<CautionId>,
    pub tools: Names<ToolId>,
    pub conditions: Names<ConditionId>,
    pub kinds: Names<KindId>,
    pub checks: Names<CheckId>,
}

impl Tables {
    fn new(raw: &RawRules, notices: &mut Notices) -> Self {
        macro_rules! table {
            ($section:ident, $what:literal) => {
                Names::new($what, raw.$section.iter().map(|entry| entry.key), notices)
            };
        }
        // Nothing refers to a block; its names are checked all the same.
        let _: Names<BlockId> = table!(blocks, "block");
        Self {
            levels: table!(levels, "level"),
            attributes: table!(attributes, "attribute"),
            duties: table!(duties, "duty"),
            spaces: table!(spaces, "space"),
            leak_kinds: table!(leak_kinds, "leak kind"),
            occasions: table!(occasions, "occasion"),
            gathers: table!(gathers, "gather"),
            facets: table!(facets, "facet"),
            ways: table!(ways, "way"),
            cautions: table!(cautions, "caution"),
            tools: table!(tools, "tool"),
            conditions: table!(conditions, "condition"),
            kinds: table!(parts, "part kind"),
            checks: table!(checks, "check"),
        }
    }
}

/// A fault's kind, id and place.
#[derive(Debug, Clone)]
pub struct FaultName {
    /// The kind of part it belongs to.
    pub kind: KindId,
    /// Its id as written.
    pub name: String,
    /// Where it is named.
    pub span: Span,
}

/// Spans that later checks of the whole need.
#[derive(Debug, Default)]
pub struct Spots {
    /// For each condition, the spans of its `raised_by` items.
    pub condition_raises: Vec<Vec<Span>>,
    /// For each fault, the spans of its `raised_by` items.
    pub fault_raises: Vec<Vec<Span>>,
    /// For each check, its `needs:` or else its name.
    pub check_needs: Vec<Span>,
    /// For each check, its steps.
    pub check_steps: Vec<Vec<Span>>,
    /// For each way, its steps.
    pub way_steps: Vec<Vec<Span>>,
    /// For each table of shares, its rows.
    pub share_rows: Vec<Vec<Span>>,
    /// For each item of `never:`, its span.
    pub never: Vec<Span>,
}

/// The state of a check: what has been named and what has been found wrong.
#[derive(Debug)]
pub struct Context {
    /// What is wrong.
    pub notices: Notices,
    /// Name tables.
    pub tables: Tables,
    /// Words for strengths, as fractions.
    pub strengths: Vec<(String, f64)>,
    /// Attributes, checked.
    pub attributes: IdVec<AttributeId, Attribute>,
    /// Values of each facet.
    pub facet_values: Vec<Vec<String>>,
    /// Roles of each kind of part.
    pub roles: Vec<Vec<String>>,
    /// Faults of all kinds.
    pub faults: IdVec<FaultId, FaultName>,
    /// Spans for later.
    pub spots: Spots,
}

impl Context {
    /// Collects the names of a rule base.
    pub fn new(raw: &RawRules, mut notices: Notices) -> Self {
        let tables = Tables::new(raw, &mut notices);
        let mut faults = IdVec::new();
        let mut roles = Vec::new();
        let mut facet_values = Vec::new();
        for (at, entry) in raw.parts.iter().enumerate() {
            let kind = KindId::from_index(at);
            let named = entry
                .node
                .get("faults")
                .and_then(Node::entries)
                .unwrap_or_default();
            let mut seen: Vec<&str> = Vec::new();
            for (key, _) in named {
                if !seen.contains(&key.text.as_str()) {
                    seen.push(&key.text);
                    faults.push(FaultName {
                        kind,
                        name: key.text.clone(),
                        span: key.span,
                    });
                }
            }
            if entry.node.get("other").is_some() && !seen.contains(&"other") {
                faults.push(FaultName {
                    kind,
                    name: "other".to_owned(),
                    span: entry.key.span,
                });
            }
            let list = entry
                .node
                .get("roles")
                .and_then(Node::items)
                .unwrap_or_default();
            roles.push(
                list.iter()
                    .filter_map(Node::text)
                    .map(str::to_owned)
                    .collect(),
            );
        }
        for entry in &raw.facets {
            let values = entry
                .node
                .get("values")
                .and_then(Node::entries)
                .unwrap_or_default();
            let mut words: Vec<String> = Vec::new();
            for (key, _) in values {
                if !words.contains(&key.text) {
                    words.push(key.text.clone());
                }
            }
            facet_values.push(words);
        }
        Self {
            notices,
            tables,
            strengths: Vec::new(),
            attributes: IdVec::new(),
            facet_values,
            roles,
            faults,
            spots: Spots::default(),
        }
    }

    /// Adds an error.
    pub fn error(&mut self, code: &'static str, at: Span, message: impl Into<String>) {
        self.notices.push(Notice::error(code, at, message));
    }

    /// Adds an error with help.
    pub fn error_help(
        &mut self,
        code: &'static str,
        at: Span,
        message: impl Into<String>,
        help: impl Into<String>,
    ) {
        self.notices
            .push(Notice::error(code, at, message).help(help));
    }

    /// Opens a map; an empty one, with a notice, if it is none.
    pub fn fields<'n>(
        &mut self,
        node: &'n Node,
        at: Span,
        what: &'static str,
    ) -> Option<Fields<'n>> {
        Fields::of(node, at, what, &mut self.notices)
    }

    /// The fault of a kind by its id as written.
    pub fn fault_of(&self, kind: KindId, name: &str) -> Option<FaultId> {
        let mut all = self.faults.enumerated();
        all.find(|(_, fault)| fault.kind == kind && fault.name == name)
            .map(|(id, _)| id)
    }

    /// The ids, as written, of the faults of a kind.
    pub fn faults_of(&self, kind: KindId) -> Vec<&str> {
        self.faults
            .iter()
            .filter(|fault| fault.kind == kind)
            .map(|fault| fault.name.as_str())
            .collect()
    }

    /// A fault written as `kind.fault`.
    pub fn full_name(&self, fault: FaultId) -> String {
        let named = &self.faults[fault];
        format!("{}.{}", self.tables.kinds.name(named.kind), named.name)
    }

    /// Reports a name that is no id. An empty one has been reported.
    pub fn check_name(&mut self, name: &str, at: Span, what: &str) {
        if !name.is_empty() && !is_name(name) {
            self.notices.push(bad_name(name, at, what));
        }
    }

    /// The id and name of an entry: its key and its `name:`.
    pub fn named(&mut self, id: &str, fields: &mut Fields<'_>) -> Named {
        let node = fields.need("name", &mut self.notices);
        Named {
            id: id.to_owned(),
            name: self.text_or_empty(node),
        }
    }
}
