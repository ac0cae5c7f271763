//! `coolant`: freeze and boiling point, expansion, strength from an instrument, litres to drain
//! and fill.

use serde_json::{Map, Value, json};

use crate::cli::Desk;
use crate::cli::args::Args;
use crate::cli::args_measure::{CoolantArgs, GlycolWord};
use crate::cli::failure::Failure;
use crate::measure::coolant::{
    Basis, CoolantError, Filling, Glycol, Mixture, OTHER_SCALE_KNOWN_TO_K, SCALE_READ_TO_K,
    Strength, StrengthBand, after_topping_up, atmosphere_kpa, from_hydrometer, from_refractometer,
    goes_needed, liquid_lost_ml, propylene_on_ethylene_scale, replace_ml, topping_strength,
    warnings,
};
use crate::show::Page;

/// Temperature of cold coolant where none is given, in °C.
const COLD_C: f64 = 20.0;
/// To what temperatures of a mixture are known, in K; litres to what share.
const KNOWN_TO_K: f64 = 1.0;
const KNOWN_TO_SHARE: f64 = 0.02;

impl From<CoolantError> for Failure {
    fn from(error: CoolantError) -> Self {
        Self::usage(error.to_string())
    }
}

/// Text and JSON, grown together.
struct Told {
    page: Page,
    json: Map<String, Value>,
}

impl Told {
    fn item(&mut self, text: &str) {
        self.page.item("·", text);
    }

    fn put(&mut self, key: &str, value: Value) {
        self.json.insert(key.to_owned(), value);
    }
}

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &CoolantArgs) -> Result<bool, Failure> {
    let (glycol, basis): (Glycol, Basis) = (of.glycol.into(), of.basis());
    let strength = strength(of, glycol, basis)?;
    let mut told = Told {
        page: desk.page(),
        json: Map::new(),
    };
    heading(&mut told, glycol, basis, &strength);
    let sums = of.want.is_some() || of.lost.is_some() || of.was.is_some();
    let mixture = match Mixture::new(glycol, basis, strength.percent) {
        Ok(mixture) => {
            properties(&mut told, of, &mixture)?;
            Some(mixture)
        }
        // The sums need no correlation.
        Err(error) if sums => {
            told.item(&error.to_string());
            None
        }
        Err(error) => return Err(error.into()),
    };
    if let Some(system_ml) = of.system {
        if system_ml <= 0.0 {
            return Err(Failure::usage(
                "a system holds more than nothing: give --system as in \"8 L\"",
            ));
        }
        self::sums(&mut told, of, basis, &strength, system_ml)?;
    }
    let frost = mixture.as_ref().zip(of.coldest);
    let warned = warnings(strength.percent, &StrengthBand::default(), frost);
    let texts: Vec<String> = warned.iter().map(ToString::to_string).collect();
    for warning in &texts {
        told.page.caution(warning);
    }
    told.put("warnings", json!(texts));
    if args.json {
        desk.json(&Value::Object(told.json))?;
    } else {
        desk.put(told.page.text())?;
    }
    Ok(true)
}

/// The strength, as given or from an instrument.
fn strength(of: &CoolantArgs, glycol: Glycol, basis: Basis) -> Result<Strength, Failure> {
    if let Some(shown_c) = of.refractometer {
        return Ok(if other_scale(of) {
            let freeze_c = propylene_on_ethylene_scale(shown_c)?;
            from_refractometer(glycol, basis, freeze_c, OTHER_SCALE_KNOWN_TO_K)?
        } else {
            from_refractometer(glycol, basis, shown_c, SCALE_READ_TO_K)?
        });
    }
    if let Some(gravity) = of.hydrometer {
        return Ok(from_hydrometer(
            glycol,
            basis,
            gravity,
            of.at.unwrap_or(COLD_C),
        )?);
    }
    let percent = of
        .percent
        .filter(|percent| (0.0..=100.0).contains(percent))
        .ok_or_else(|| {
            Failure::usage("no coolant has that strength: give --percent from 0 to 100")
        })?;
    Ok(Strength {
        percent,
        lowest: percent,
        highest: percent,
    })
}

/// Whether the reading comes from a scale for the other glycol.
fn other_scale(of: &CoolantArgs) -> bool {
    of.ethylene_scale && of.glycol == GlycolWord::Propylene
}

fn heading(told: &mut Told, glycol: Glycol, basis: Basis, strength: &Strength) {
    let percent = strength.percent;
    told.page
        .heading(&format!("{percent:.0} vol % of {basis} in water: {glycol}"));
    if strength.highest > strength.lowest {
        told.item(&format!(
            "the instrument leaves {:.0} to {:.0} % open",
            strength.lowest, strength.highest
        ));
    }
    told.page.aside(match basis {
        Basis::Concentrate => {
            "Per cent of concentrate as sold, inhibitors and a little water included. With --pure: of pure glycol."
        }
        Basis::Pure => "Per cent of pure glycol. Without --pure: of concentrate as sold, the usual meaning.",
    });
    told.put(
        "glycol",
        json!(match glycol {
            Glycol::Ethylene => "ethylene",
            Glycol::Propylene => "propylene",
        }),
    );
    told.put(
        "basis",
        json!(match basis {
            Basis::Pure => "pure",
            Basis::Concentrate => "concentrate",
        }),
    );
    told.put("percent", json!(percent));
    told.put(
        "percent_between",
        json!([strength.lowest, strength.highest]),
    );
}

fn properties(told: &mut Told, of: &CoolantArgs, mixture: &Mixture) -> Result<(), Failure> {
    if of.cap < 0.0 {
        return Err(Failure::usage(
            "a cap holds pressure in: give --cap as its stamp says, as in \"15 psi\", or leave it out for an open system",
        ));
    }
    let likes = &of.units;
    let cold_c = of.at.unwrap_or(COLD_C);
    let absolute_kpa = atmosphere_kpa(of.altitude)? + of.cap;
    let (freeze_c, boil_c) = (mixture.freeze_c(), mixture.boil_c(absolute_kpa)?);
    told.item(&format!(
        "first ice at {}",
        likes.temperature(freeze_c, KNOWN_TO_K)
    ));
    let cap = if of.cap == 0.0 {
        "open".to_owned()
    } else {
        format!("under a cap of {}", likes.pressure(of.cap, 1.0))
    };
    told.item(&format!(
        "boils at {}, {cap}",
        likes.temperature(boil_c, KNOWN_TO_K)
    ));
    let viscosity = mixture.viscosity_mpa_s(cold_c)?;
    let density = mixture.density(cold_c)?;
    told.item(&format!(
        "at {}: {density:.0} kg/m³, {viscosity:.2} mPa·s",
        likes.temperature(cold_c, KNOWN_TO_K)
    ));
    let swells = mixture.expansion(cold_c, of.hot)?;
    let mut text = format!(
        "grows by {:.1} % from {} to {}",
        100.0 * swells,
        likes.temperature(cold_c, KNOWN_TO_K),
        likes.temperature(of.hot, KNOWN_TO_K)
    );
    if let Some(system_ml) = of.system {
        let room_ml = mixture.expansion_room_ml(system_ml, cold_c, of.hot)?;
        let room = likes.volume(room_ml, room_ml * 0.05);
        text = format!("{text}: leave room for {room} above the cold mark");
        told.put("expansion_room_ml", json!(room_ml));
    }
    told.item(&text);
    continued(told, of, mixture, cold_c);
    if of.hot > boil_c {
        told.page.caution(&format!(
            "It boils before it is at {}: the growth is that of liquid under a cap that holds it down.",
            likes.temperature(of.hot, KNOWN_TO_K)
        ));
    }
    if let Some(shown_c) = of.refractometer.filter(|_| other_scale(of)) {
        told.page.caution(&format!(
            "The ethylene scale shows {}: propylene glycol protects less than that scale says. Known to ±{OTHER_SCALE_KNOWN_TO_K:.0} K only; a scale for propylene is better.",
            likes.temperature(shown_c, KNOWN_TO_K)
        ));
    }
    told.put("freeze_c", json!(freeze_c));
    told.put("absolute_kpa", json!(absolute_kpa));
    told.put("boil_c", json!(boil_c));
    told.put("at_c", json!(cold_c));
    told.put("density_kg_m3", json!(density));
    told.put("viscosity_mpa_s", json!(viscosity));
    told.put("hot_c", json!(of.hot));
    told.put("expansion", json!(swells));
    Ok(())
}

/// What rests on no published table, but on tables continued.
fn continued(told: &mut Told, of: &CoolantArgs, mixture: &Mixture, cold_c: f64) {
    let (density_to, viscosity_to) = (
        mixture.density_published_to_c(),
        mixture.viscosity_published_to_c(),
    );
    let beyond = [
        ("viscosity", cold_c > viscosity_to, "±10 %"),
        ("density", cold_c > density_to, "±0.2 %"),
        ("growth", cold_c.max(of.hot) > density_to, "±0.3 points"),
    ];
    let beyond = beyond.iter().filter(|(_, beyond, _)| *beyond);
    let names: Vec<&str> = beyond.clone().map(|(name, ..)| *name).collect();
    if !names.is_empty() {
        let known: Vec<String> = beyond
            .map(|(name, _, to)| format!("{name} ({to})"))
            .collect();
        told.page.aside(&format!(
            "No published table goes this hot. Worked out from the cooler ones: {}.",
            known.join(", ")
        ));
    }
    told.put("continued_beyond_tables", json!(names));
}

fn sums(
    told: &mut Told,
    of: &CoolantArgs,
    basis: Basis,
    strength: &Strength,
    system_ml: f64,
) -> Result<(), Failure> {
    let likes = &of.units;
    let have = strength.percent;
    if let Some(want) = of.want {
        let fill = of.fill.unwrap_or(if want > have {
            Filling::Undiluted
        } else {
            Filling::Water
        });
        let ml = replace_ml(system_ml, have, want, fill)?;
        told.item(&format!(
            "to {want:.0} %: drain {} and fill with as much {}",
            likes.volume(ml, system_ml * KNOWN_TO_SHARE),
            named(fill, basis)
        ));
        told.put("replace_ml", json!(ml));
        if let Some(per_go) = of.per_go {
            let goes = goes_needed(system_ml, per_go, have, want, fill)?;
            told.item(&match goes {
                Some(goes) => format!(
                    "{goes} times over at {} a go; run it warm between two goes",
                    likes.volume(per_go, per_go * KNOWN_TO_SHARE)
                ),
                None => {
                    "not within 20 goes: use a stronger filling, or open a block drain".to_owned()
                }
            });
            told.put("goes", json!(goes));
        }
    }
    if let Some(lost_ml) = of.lost {
        let fill = of.fill.unwrap_or(Filling::Water);
        let now = after_topping_up(system_ml, have, lost_ml, fill, of.times)?;
        told.item(&format!(
            "after losing {} and topping up with {}, {} times over: {now:.0} %",
            likes.volume(lost_ml, lost_ml * KNOWN_TO_SHARE),
            named(fill, basis),
            of.times
        ));
        told.put("percent_after", json!(now));
        let glycol: Glycol = of.glycol.into();
        if let Ok(thinned) = Mixture::new(glycol, basis, now) {
            let freeze_c = thinned.freeze_c();
            told.item(&format!(
                "then first ice at {}",
                likes.temperature(freeze_c, KNOWN_TO_K)
            ));
            told.put("freeze_after_c", json!(freeze_c));
        }
        for warning in warnings(now, &StrengthBand::default(), None) {
            told.page.caution(&format!("Then: {warning}"));
        }
        if let Some(want) = of.want {
            let next = topping_strength(system_ml, lost_ml, have, want)?;
            told.item(&format!(
                "to come back to {want:.0} % when {} are missing, top up with {next:.0} %",
                likes.volume(lost_ml, lost_ml * KNOWN_TO_SHARE)
            ));
            told.put("topping_percent", json!(next));
        }
    }
    if let Some(was) = of.was {
        let (least, most) = liquid_lost_ml(system_ml, was, have)?;
        told.item(&format!(
            "thinned from {was:.0} % by water: {} to {} of liquid went, the less if all at once",
            likes.volume(least, system_ml * KNOWN_TO_SHARE),
            likes.volume(most, system_ml * KNOWN_TO_SHARE)
        ));
        told.put("liquid_lost_ml", json!([least, most]));
    }
    Ok(())
}

/// A filling in words.
fn named(fill: Filling, basis: Basis) -> String {
    match fill {
        Filling::Water => "de-ionised water".to_owned(),
        Filling::Half => format!("half {basis}, half water"),
        Filling::Undiluted => basis.to_string(),
        Filling::Percent(percent) => format!("{percent:.0} % mix of the same kind"),
    }
}
