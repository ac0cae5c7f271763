//! Entries of measurements, from job text.

use crate::job::file::Entry;
use crate::job::measured::{CoolantReading, GaugeLog, LossTold, PortMap, Readings, Shown};
use crate::job::read::Reader;
use crate::measure::coolant::Glycol;
use crate::measure::hold::{AirSpace, MOST_READINGS};
use crate::measure::units::{PressureUnit, volume_ml};
use crate::notice::codes;
use crate::rules::raw::{Fields, Node};

/// Units of a gauge, as written in a job.
pub(super) const GAUGE_UNITS: [(&str, PressureUnit); 3] = [
    ("psi", PressureUnit::Psi),
    ("kpa", PressureUnit::KiloPascal),
    ("bar", PressureUnit::Bar),
];
/// Glycols, as written in a job.
pub(super) const GLYCOLS: [(&str, Glycol); 2] = [
    ("ethylene", Glycol::Ethylene),
    ("propylene", Glycol::Propylene),
];
/// Strength where only the glycol is given, per cent.
const USUAL_PERCENT: f64 = 50.0;
const ML_PER_L: f64 = 1000.0;

impl Reader {
    pub(super) fn gauge(&mut self, check: &Node, fields: &mut Fields<'_>) -> Option<Entry> {
        let check = self.word(check, "a check");
        let at = self.place(fields);
        let (here, file) = (fields.take("readings"), fields.take("file"));
        let unit = fields.take("unit");
        let unit = self.one_of(unit, &GAUGE_UNITS);
        let (air, draw) = (fields.take("air_ml"), fields.take("air_from_draw"));
        let coolant = fields.take("coolant_l");
        let glycol = fields.take("glycol");
        let percent = fields.take("percent");
        let (hose, step) = (fields.take("hose_ml_per_kpa"), fields.take("step"));
        let readings = match (here, file) {
            (Some(rows), None) => Some(Readings::Here(self.rows(rows))),
            (None, Some(file)) => Some(Readings::File {
                name: self.word(file, "a file"),
                read: None,
            }),
            _ => {
                self.wrong(
                    fields.at(),
                    codes::MISSING_KEY,
                    "a gauge log has either `readings: [[minute, pressure], …]` or `file:`",
                );
                None
            }
        };
        let air = match (air, draw) {
            (Some(node), None) if node.items().is_some() => {
                let [low, high] = self.numbers::<2>(node, "the least and the most air, mL")?;
                Some(AirSpace::Between(low, high))
            }
            (Some(node), None) => Some(AirSpace::Known(self.number(node)?)),
            (None, Some(node)) => {
                let [drawn_ml, before_kpa, after_kpa] =
                    self.numbers::<3>(node, "mL drawn, pressure before, pressure after")?;
                Some(AirSpace::Draw {
                    drawn_ml,
                    before_kpa,
                    after_kpa,
                })
            }
            (None, None) => None,
            (Some(_), Some(draw)) => {
                self.wrong(
                    draw.span,
                    codes::WRONG_KIND,
                    "a gauge log says once how much air was over the coolant: `air_ml: 300`, `air_ml: [200, 500]` or `air_from_draw: [mL, before, after]`",
                );
                return None;
            }
        };
        let coolant_l = match coolant {
            Some(node) => Some(self.number(node)?),
            None => None,
        };
        let percent = percent.map(|node| self.number(node));
        let mixture = match (glycol, percent) {
            (None, None) => None,
            (glycol, percent) => Some((
                self.one_of(glycol, &GLYCOLS),
                percent.unwrap_or(Some(USUAL_PERCENT))?,
            )),
        };
        let hose_ml_per_kpa = match hose {
            Some(node) => {
                let [low, high] = self.numbers::<2>(node, "the least and the most, mL/kPa")?;
                Some((low, high))
            }
            None => None,
        };
        let step = match step {
            Some(node) => Some(self.number(node)?),
            None => None,
        };
        Some(Entry::Gauge(GaugeLog {
            check,
            at,
            readings: readings?,
            unit,
            air,
            coolant_l,
            mixture,
            hose_ml_per_kpa,
            step,
        }))
    }

    /// Rows of two to four numbers.
    fn rows(&mut self, node: &Node) -> Vec<Vec<f64>> {
        let mut rows = Vec::new();
        for item in self
            .list(Some(node), "readings")
            .iter()
            .take(MOST_READINGS + 1)
        {
            let cells = item.items().unwrap_or_default();
            if !(2..=4).contains(&cells.len()) {
                self.wrong(
                    item.span,
                    codes::WRONG_KIND,
                    "a reading is `[minute, pressure]`, with the coolant's and the air's temperature in °C behind them if noted",
                );
                continue;
            }
            rows.push(cells.iter().filter_map(|cell| self.number(cell)).collect());
        }
        rows
    }

    pub(super) fn coolant(&mut self, check: &Node, fields: &mut Fields<'_>) -> Option<Entry> {
        let check = self.word(check, "a check");
        let glycol = fields.need("glycol", &mut self.notices);
        let glycol = self.one_of(glycol, &GLYCOLS);
        let percent = fields.take("percent");
        let freeze = fields.take("refractometer_c");
        let gravity = fields.take("hydrometer");
        let at = fields.take("at_c");
        let shown = match (percent, freeze, gravity, at) {
            (Some(node), None, None, None) => {
                let percent = self.number(node)?;
                if !(0.0..=100.0).contains(&percent) {
                    self.wrong(
                        node.span,
                        codes::OUT_OF_RANGE,
                        "a strength lies between 0 and 100 per cent: read the instrument again",
                    );
                    return None;
                }
                Shown::Percent(percent)
            }
            (None, Some(freeze), None, None) => Shown::FreezeC(self.number(freeze)?),
            (None, None, Some(gravity), Some(at)) => {
                Shown::Gravity(self.number(gravity)?, self.number(at)?)
            }
            _ => {
                self.wrong(
                    fields.at(),
                    codes::MISSING_KEY,
                    "a measured strength has one of `percent: 45`, `refractometer_c: -30`, or `hydrometer: 1.06` with `at_c: 20`",
                );
                return None;
            }
        };
        Some(Entry::Coolant(CoolantReading {
            check,
            glycol,
            shown,
        }))
    }

    pub(super) fn port(&mut self, check: &Node, fields: &mut Fields<'_>) -> Option<Entry> {
        let check = self.word(check, "a check");
        let at = self.place(fields);
        let file = fields.need("file", &mut self.notices)?;
        Some(Entry::Port(PortMap {
            check,
            at,
            file: self.word(file, "a port file"),
            read: None,
        }))
    }

    pub(super) fn loss(&mut self, lost: &Node, fields: &mut Fields<'_>) -> Option<Entry> {
        let days = fields.need("days", &mut self.notices);
        let hours = fields.take("hours_a_day");
        let text = self.word(lost, "a volume with its unit");
        let litres = match volume_ml(&text) {
            Ok(ml) => ml / ML_PER_L,
            Err(error) => {
                self.wrong(lost.span, codes::WRONG_KIND, error.to_string());
                return None;
            }
        };
        let hours_a_day = match hours {
            Some(node) => Some(self.number(node)?),
            None => None,
        };
        let told = LossTold {
            litres,
            days: self.number(days?)?,
            hours_a_day,
        };
        if let Some(fault) = told.reported().fault() {
            self.wrong(fields.at(), codes::OUT_OF_RANGE, fault.to_string());
            return None;
        }
        Some(Entry::Loss(told))
    }

    /// A finite number.
    pub(super) fn number(&mut self, node: &Node) -> Option<f64> {
        let text = node.text().map(str::trim);
        match text.and_then(|text| text.parse::<f64>().ok()) {
            Some(value) if value.is_finite() => Some(value),
            Some(_) => {
                self.wrong(node.span, codes::NOT_A_NUMBER, "this is no number here");
                None
            }
            None => {
                let written =
                    text.map_or_else(|| node.kind_words().to_owned(), |text| format!("`{text}`"));
                let message = format!("a number without its unit belongs here, not {written}");
                self.wrong(node.span, codes::WRONG_KIND, message);
                None
            }
        }
    }

    /// A list of so many numbers.
    fn numbers<const N: usize>(&mut self, node: &Node, what: &str) -> Option<[f64; N]> {
        let items = node.items().unwrap_or_default();
        if items.len() != N {
            let message = format!("a list of {N} numbers belongs here: {what}");
            self.wrong(node.span, codes::WRONG_KIND, message);
            return None;
        }
        let read: Vec<f64> = items.iter().filter_map(|item| self.number(item)).collect();
        read.try_into().ok()
    }
}
