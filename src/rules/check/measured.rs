//! `measured:` of a check: what an instrument's reading says about its signs.

use crate::notice::codes;
use crate::rules::base::{Check, Measured, PortShows, Side, StrengthShows};
use crate::rules::check::context::Context;
use crate::rules::raw::Node;

/// Keys of a port map's answers, in the order of the grades.
const GRADES: [&str; 4] = ["use", "dress_and_seal", "build_up", "scrap"];

impl Context {
    /// What `measured:` says; one instrument for each check.
    pub fn measured(&mut self, node: &Node, check: &Check) -> Option<Measured> {
        let mut fields = self.fields(node, node.span, "`measured:`")?;
        let gauge = fields.take("gauge");
        let strength = fields.take("strength");
        let port = fields.take("port");
        let dry = fields.take("dry_days");
        self.finish(fields);
        match (gauge, strength, port, dry) {
            (Some(gauge), None, None, None) => {
                if check.occasion.is_none() {
                    self.error_help(
                        codes::NOT_HERE,
                        gauge.span,
                        "a gauge measures the leaks that are open on an occasion, and this check names none",
                        "add `occasion:` to the check",
                    );
                    return None;
                }
                let gather = self.tables.gathers.find_node(gauge, &mut self.notices)?;
                Some(Measured::Gauge(gather))
            }
            (None, Some(strength), None, None) => {
                let items = self.list(Some(strength));
                let shows: Vec<StrengthShows> = items
                    .into_iter()
                    .filter_map(|item| self.strength_shows(item, check))
                    .collect();
                (!shows.is_empty()).then_some(Measured::Strength(shows))
            }
            (None, None, Some(port), None) => self.port_shows(port, check).map(Measured::Port),
            (None, None, None, Some(dry)) => self.dry_days(dry, check).map(Measured::DryDays),
            _ => {
                self.error_help(
                    codes::MISSING_KEY,
                    node.span,
                    "`measured:` names exactly one instrument",
                    "write `gauge: GATHER`, `strength: […]`, `port: {…}` or `dry_days: {…}`",
                );
                None
            }
        }
    }

    fn strength_shows(&mut self, node: &Node, check: &Check) -> Option<StrengthShows> {
        let mut fields = self.fields(node, node.span, "a limit of the strength")?;
        let (below, above) = (fields.take("below"), fields.take("above"));
        let shows = fields.need("shows", &mut self.notices);
        self.finish(fields);
        let (side, limit) = match (below, above) {
            (Some(limit), None) => (Side::Below, limit),
            (None, Some(limit)) => (Side::Above, limit),
            _ => {
                let message = "a limit of the strength is either `below:` or `above:` a per cent";
                self.error(codes::MISSING_KEY, node.span, message);
                return None;
            }
        };
        let percent = self.number_in(limit, 0.0, 100.0, "a strength in per cent");
        let shows = self.sign_answer(shows?, &check.signs)?;
        Some(StrengthShows {
            shows,
            side,
            percent,
        })
    }

    fn port_shows(&mut self, node: &Node, check: &Check) -> Option<PortShows> {
        let mut fields = self.fields(node, node.span, "`port:`")?;
        let channel = fields.need("channel", &mut self.notices);
        let grades = GRADES.map(|grade| fields.need(grade, &mut self.notices));
        self.finish(fields);
        let mut answer = |node: Option<&Node>| self.sign_answer(node?, &check.signs);
        let channel = answer(channel);
        let [good, dressed, built, scrap] = grades.map(answer);
        Some(PortShows {
            channel: channel?,
            grades: [good?, dressed?, built?, scrap?],
        })
    }
}
