//! Entries of measurements, as job text.

use crate::job::measured::{CoolantReading, GaugeLog, LossTold, PortMap, Readings, Shown};
use crate::job::read_measured::{GAUGE_UNITS, GLYCOLS};
use crate::job::write::{flow, quoted};
use crate::measure::coolant::Glycol;
use crate::measure::hold::AirSpace;

fn word<T: PartialEq>(known: &[(&'static str, T)], value: &T) -> String {
    let found = known.iter().find(|(_, known)| known == value);
    found.map_or_else(String::new, |(word, _)| (*word).to_owned())
}

fn glycol_word(glycol: Glycol) -> String {
    word(&GLYCOLS, &glycol)
}

fn numbers(values: &[f64]) -> String {
    let values: Vec<String> = values.iter().map(ToString::to_string).collect();
    format!("[{}]", values.join(", "))
}

pub(super) fn gauge(log: &GaugeLog) -> String {
    let mut fields = vec![("gauge", quoted(&log.check))];
    if let Some(at) = &log.at {
        fields.push(("at", quoted(at)));
    }
    fields.push(("unit", word(&GAUGE_UNITS, &log.unit)));
    fields.extend(log.air.map(|air| match air {
        AirSpace::Known(ml) => ("air_ml", ml.to_string()),
        AirSpace::Between(low, high) => ("air_ml", numbers(&[low, high])),
        AirSpace::Draw {
            drawn_ml,
            before_kpa,
            after_kpa,
        } => ("air_from_draw", numbers(&[drawn_ml, before_kpa, after_kpa])),
    }));
    fields.extend(
        log.coolant_l
            .map(|litres| ("coolant_l", litres.to_string())),
    );
    if let Some((glycol, percent)) = log.mixture {
        fields.push(("glycol", glycol_word(glycol)));
        fields.push(("percent", percent.to_string()));
    }
    if let Some((low, high)) = log.hose_ml_per_kpa {
        fields.push(("hose_ml_per_kpa", numbers(&[low, high])));
    }
    if let Some(step) = log.step {
        fields.push(("step", step.to_string()));
    }
    fields.push(match &log.readings {
        Readings::File { name, .. } => ("file", quoted(name)),
        Readings::Here(rows) => {
            let rows: Vec<String> = rows.iter().map(|row| numbers(row)).collect();
            ("readings", format!("[{}]", rows.join(", ")))
        }
    });
    flow(&fields)
}

pub(super) fn coolant(reading: &CoolantReading) -> String {
    let mut fields = vec![
        ("coolant", quoted(&reading.check)),
        ("glycol", glycol_word(reading.glycol)),
    ];
    match reading.shown {
        Shown::Percent(percent) => fields.push(("percent", percent.to_string())),
        Shown::FreezeC(shown) => fields.push(("refractometer_c", shown.to_string())),
        Shown::Gravity(gravity, at_c) => {
            fields.push(("hydrometer", gravity.to_string()));
            fields.push(("at_c", at_c.to_string()));
        }
    }
    flow(&fields)
}

pub(super) fn port(map: &PortMap) -> String {
    let mut fields = vec![("port", quoted(&map.check))];
    if let Some(at) = &map.at {
        fields.push(("at", quoted(at)));
    }
    fields.push(("file", quoted(&map.file)));
    flow(&fields)
}

pub(super) fn loss(told: &LossTold) -> String {
    let mut fields = vec![
        ("loss", quoted(&format!("{} L", told.litres))),
        ("days", told.days.to_string()),
    ];
    if let Some(hours) = told.hours_a_day {
        fields.push(("hours_a_day", hours.to_string()));
    }
    flow(&fields)
}
