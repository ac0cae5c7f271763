//! Entries of repair and what follows it, from job text.

use crate::job::file::Entry;
use crate::job::mended::{DrySpell, Filled, RepairDone};
use crate::job::read::Reader;
use crate::measure::units::volume_ml;
use crate::notice::codes;
use crate::rules::raw::{Fields, Node};

const ML_PER_L: f64 = 1000.0;
/// Days that are taken for meant.
const MOST_DAYS: f64 = 3660.0;
/// What stands in place of a strength that nobody knows.
pub(super) const UNKNOWN: &str = "unknown";

impl Reader {
    pub(super) fn repaired(&mut self, node: &Node, fields: &mut Fields<'_>) -> Option<Entry> {
        let at = self.place(fields);
        let (how, cleaned) = (fields.take("how"), fields.take("cleaned"));
        let faults = match (node.items(), at) {
            (Some(_), None) => self.words(Some(node), "the faults repaired"),
            (Some(_), Some(_)) => {
                self.wrong(
                    node.span,
                    codes::WRONG_KIND,
                    "several faults name their places themselves: `[fault@place, fault@place]`",
                );
                return None;
            }
            (None, Some(at)) => vec![format!("{}@{at}", self.word(node, "a fault"))],
            (None, None) => vec![self.word(node, "a fault")],
        };
        if faults.is_empty() {
            self.wrong(
                node.span,
                codes::EMPTY_TEXT,
                "a repair names at least one fault, as in `repaired: fault@place`",
            );
        }
        let refilled = match fields.take("refilled") {
            Some(node) => Some(self.filled(node, fields)?),
            None => None,
        };
        Some(Entry::Repaired(RepairDone {
            faults,
            how: self.text_or_none(how),
            refilled,
            cleaned: cleaned.map(|node| self.words(Some(node), "places")),
        }))
    }

    /// `3 L`, with its strength beside it.
    pub(super) fn filled(&mut self, node: &Node, fields: &mut Fields<'_>) -> Option<Filled> {
        let percent = fields.take("percent");
        let litres = self.litres(node)?;
        let Some(percent) = percent else {
            self.wrong(
                node.span,
                codes::MISSING_KEY,
                "a refill says how strong it was: add `percent: 50`, or `percent: unknown`",
            );
            return None;
        };
        if percent.text() == Some(UNKNOWN) {
            return Some(Filled {
                litres,
                percent: None,
            });
        }
        let value = self.number(percent)?;
        if !(0.0..=100.0).contains(&value) {
            self.wrong(
                percent.span,
                codes::OUT_OF_RANGE,
                "a strength lies between 0 and 100 per cent by volume",
            );
            return None;
        }
        Some(Filled {
            litres,
            percent: Some(value),
        })
    }

    /// A volume with its unit, in litres; above 0.
    pub(super) fn litres(&mut self, node: &Node) -> Option<f64> {
        let text = self.word(node, "a volume with its unit");
        match volume_ml(&text) {
            Ok(ml) if ml > 0.0 => Some(ml / ML_PER_L),
            Ok(_) => {
                self.wrong(
                    node.span,
                    codes::OUT_OF_RANGE,
                    "what was filled in is more than nothing",
                );
                None
            }
            Err(error) => {
                self.wrong(node.span, codes::WRONG_KIND, error.to_string());
                None
            }
        }
    }

    pub(super) fn dry_spell(&mut self, check: &Node, fields: &mut Fields<'_>) -> Option<Entry> {
        let check = self.word(check, "a check");
        let node = fields.need("days", &mut self.notices)?;
        let days = self.number(node)?;
        if days <= 0.0 || days > MOST_DAYS {
            self.wrong(
                node.span,
                codes::OUT_OF_RANGE,
                format!("a dry spell lasts some days, more than 0 and up to {MOST_DAYS}"),
            );
            return None;
        }
        Some(Entry::DrySpell(DrySpell { check, days }))
    }

    pub(super) fn waiting(&mut self, node: &Node, fields: &mut Fields<'_>) -> Entry {
        let until = fields.take("until");
        Entry::Waiting {
            why: self.word(node, "what the job waits for"),
            until: self.text_or_none(until),
        }
    }

    pub(super) fn handed_over(&mut self, node: &Node, fields: &mut Fields<'_>) -> Entry {
        let open = fields.need("open", &mut self.notices);
        Entry::HandedOver {
            to: self.word(node, "who goes on with it"),
            open: self.text_or_none(open),
        }
    }

    pub(super) fn closed(&mut self, node: &Node, fields: &mut Fields<'_>) -> Entry {
        let open = fields.take("open");
        Entry::Closed {
            says: self.word(node, "how it ended"),
            open: self.text_or_none(open),
        }
    }
}
