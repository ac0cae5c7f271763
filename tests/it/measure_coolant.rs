//! Coolant against published values. Beside each check: its source and kind (published, from
//! memory of a published source, common practice, arithmetic).

use std::path::Path;

use seepwise::measure::coolant::{
    Basis, CoolantError, Filling, Glycol, Mixture, SCALE_READ_TO_K, StrengthBand, Warning,
    after_topping_up, atmosphere_kpa, from_hydrometer, from_refractometer, goes_needed,
    liquid_lost_ml, propylene_on_ethylene_scale, replace_ml, topping_strength, warnings,
    water_saturation_c,
};
use seepwise::measure::units::{pressure_kpa, temperature_c};

fn near(found: f64, wanted: f64, tolerance: f64) {
    assert!(
        (found - wanted).abs() <= tolerance,
        "{found} is not {wanted} ± {tolerance}"
    );
}

fn mixture(glycol: Glycol, basis: Basis, percent: f64) -> Mixture {
    Mixture::new(glycol, basis, percent).unwrap()
}

/// Lines of a reference table as numbers, after one word.
fn table(name: &str) -> Vec<Vec<String>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/reference/coolant")
        .join(name);
    let text = std::fs::read_to_string(path).unwrap();
    text.lines()
        .skip(1)
        .map(|line| line.split(',').map(str::to_owned).collect())
        .collect()
}

fn number(text: &str) -> f64 {
    text.parse().unwrap()
}

/// Published: Melinder 2010 as computed by `CoolProp` 8.0.0.
#[test]
fn pure_glycol_agrees_with_the_library() {
    let mut seen = 0;
    for row in table("glycol_coolprop.csv")
        .iter()
        .filter(|row| row[4] == "ok")
    {
        let glycol = if row[0] == "MEG" {
            Glycol::Ethylene
        } else {
            Glycol::Propylene
        };
        let of = mixture(glycol, Basis::Pure, number(&row[1]));
        let celsius = number(&row[3]);
        if number(&row[1]) == 0.0 && celsius == 0.0 {
            continue; // water at its freezing point
        }
        near(
            of.density(celsius).unwrap(),
            number(&row[5]),
            0.005 * number(&row[5]),
        );
        near(
            of.viscosity_mpa_s(celsius).unwrap(),
            1000.0 * number(&row[6]),
            50.0 * number(&row[6]),
        );
        near(of.freeze_c(), number(&row[9]), 0.05);
        near(
            of.expansion(20.0, celsius).unwrap() + 1.0,
            number(&row[10]),
            0.000_5,
        );
        near(of.expansion_per_k(celsius).unwrap(), number(&row[8]), 1e-5);
        seen += 1;
    }
    assert!(seen > 40, "{seen}");
}

/// Published: ASHRAE 2001 as computed by `CoolProp` 8.0.0.
#[test]
fn inhibited_glycol_agrees_with_the_library() {
    let mut seen = 0;
    for row in table("glycol_ashrae_volume.csv") {
        let glycol = if row[0] == "AEG" {
            Glycol::Ethylene
        } else {
            Glycol::Propylene
        };
        let of = mixture(glycol, Basis::Concentrate, number(&row[1]));
        let celsius = number(&row[2]);
        near(of.freeze_c(), number(&row[7]), 0.05);
        if row[3] == "nan" {
            assert!(matches!(
                of.density(celsius),
                Err(CoolantError::Frozen { .. })
            ));
            continue;
        }
        near(
            of.density(celsius).unwrap(),
            number(&row[3]),
            0.005 * number(&row[3]),
        );
        near(
            of.viscosity_mpa_s(celsius).unwrap(),
            1000.0 * number(&row[4]),
            50.0 * number(&row[4]),
        );
        near(
            of.expansion(20.0, celsius).unwrap() + 1.0,
            number(&row[8]),
            0.000_5,
        );
        seen += 1;
    }
    assert!(seen > 50, "{seen}");
}

/// Published (both series as above): freezing ±1 K, expansion 20 → 90 °C ±0.3 points.
#[test]
fn freezing_and_expansion_of_both_kinds_of_percentage() {
    let rows = [
        (20.0, -8.97, -8.98, -7.47, -7.38, 3.85, 3.64, 3.94, 4.06),
        (30.0, -16.49, -15.70, -13.31, -13.11, 4.18, 3.79, 4.45, 4.44),
        (40.0, -26.74, -24.80, -21.42, -21.51, 4.39, 3.95, 4.93, 4.78),
        (50.0, -39.84, -37.11, -33.55, -33.66, 4.55, 4.11, 5.30, 5.10),
    ];
    for (percent, eg, aeg, pg, apg, eg_x, aeg_x, pg_x, apg_x) in rows {
        for (glycol, basis, freeze, swell) in [
            (Glycol::Ethylene, Basis::Pure, eg, eg_x),
            (Glycol::Ethylene, Basis::Concentrate, aeg, aeg_x),
            (Glycol::Propylene, Basis::Pure, pg, pg_x),
            (Glycol::Propylene, Basis::Concentrate, apg, apg_x),
        ] {
            let of = mixture(glycol, basis, percent);
            near(of.freeze_c(), freeze, 0.05);
            near(100.0 * of.expansion(20.0, 90.0).unwrap(), swell, 0.02);
        }
    }
    near(
        mixture(Glycol::Ethylene, Basis::Concentrate, 60.0).freeze_c(),
        -52.02,
        0.05,
    );
    near(
        mixture(Glycol::Propylene, Basis::Concentrate, 60.0).freeze_c(),
        -51.06,
        0.05,
    );
}

/// Published at third hand: SAE J814, freezing ±1 K at 40 to 60 % (whole degrees), boiling ±2 K.
#[test]
fn the_trade_table_of_ethylene_and_propylene() {
    for (glycol, percent, freeze, boil) in [
        (Glycol::Ethylene, 40.0, -24.0, 106.0),
        (Glycol::Ethylene, 50.0, -37.0, 108.0),
        (Glycol::Ethylene, 60.0, -52.0, 111.0),
        (Glycol::Propylene, 40.0, -21.0, 104.0),
        (Glycol::Propylene, 50.0, -33.0, 106.0),
    ] {
        let of = mixture(glycol, Basis::Concentrate, percent);
        near(of.freeze_c(), freeze, 1.0);
        near(of.boil_c(101.325).unwrap(), boil, 2.0);
    }
    // The same table gives −49 °C for 60 % propylene; ASHRAE's series −51. Only boiling is compared.
    near(
        mixture(Glycol::Propylene, Basis::Concentrate, 60.0)
            .boil_c(101.325)
            .unwrap(),
        109.0,
        2.0,
    );
}

/// Published: Lange's Handbook, 15th ed., table 5.13, pure propylene glycol, ±1 K.
#[test]
fn propylene_against_a_second_handbook() {
    for (percent, freeze) in [(20.0, -6.7), (30.0, -12.8), (40.0, -20.6), (50.0, -33.3)] {
        near(
            mixture(Glycol::Propylene, Basis::Pure, percent).freeze_c(),
            freeze,
            1.0,
        );
    }
}

/// From memory: ASTM D3306, concentrate at 50 vol % freezes at −36.4 °C or below. The series must
/// not promise less than 1 K worse.
#[test]
fn concentrate_meets_its_specification() {
    let half = mixture(Glycol::Ethylene, Basis::Concentrate, 50.0);
    near(half.freeze_c(), -36.4, 1.0);
    near(half.boil_c(101.325).unwrap(), 107.8, 2.0);
    near(half.glycol_mass_fraction(), 0.503, 0.003);
}

/// Published (computed): Raoult's law, ±0.5 K; gauge psi over one standard atmosphere.
#[test]
fn boiling_under_a_cap() {
    let rows: [(f64, [f64; 4]); 5] = [
        (0.0, [99.97, 118.75, 120.95, 122.01]),
        (30.0, [103.57, 122.74, 124.99, 126.07]),
        (40.0, [105.4, 124.78, 127.05, 128.14]),
        (50.0, [107.8, 127.44, 129.74, 130.84]),
        (57.4, [110.2, 130.0, 132.4, 133.5]), // between the rows of 50 and 60 %: ±1 K
    ];
    for (percent, wanted) in rows {
        let of = mixture(Glycol::Ethylene, Basis::Pure, percent);
        for (cap, boil) in ["0 psi", "13 psi", "15 psi", "16 psi"]
            .into_iter()
            .zip(wanted)
        {
            let kpa = 101.325 + pressure_kpa(cap).unwrap();
            near(
                of.boil_c(kpa).unwrap(),
                boil,
                if percent > 50.0 { 1.0 } else { 0.5 },
            );
        }
    }
    let propylene = mixture(Glycol::Propylene, Basis::Pure, 50.0);
    for (psi, boil) in [(0.0, 106.0), (13.0, 125.4), (15.0, 127.7), (16.0, 128.8)] {
        near(
            propylene.boil_c(101.325 + psi * 6.894_757).unwrap(),
            boil,
            0.5,
        );
    }
    // Common practice: 265 °F at 15 psi, ±2 K.
    let half = mixture(Glycol::Ethylene, Basis::Concentrate, 50.0);
    near(
        half.boil_c(101.325 + 103.421).unwrap(),
        temperature_c("265 °F").unwrap(),
        2.0,
    );
}

/// Published: IAPWS-IF97 and IAPWS-95, both columns of the table.
#[test]
fn water_boils_where_the_steam_tables_say() {
    let rows = table("water_saturation.csv");
    assert!(rows.len() > 30);
    for row in rows {
        near(water_saturation_c(number(&row[0])), number(&row[1]), 0.001);
        near(water_saturation_c(number(&row[0])), number(&row[2]), 0.01);
    }
}

/// Published: ICAO standard atmosphere, 1000 m 89.875 kPa, 2000 m 79.495 kPa, 3000 m 70.109 kPa.
#[test]
fn thinner_air_boils_earlier() {
    for (metres, kpa) in [
        (0.0, 101.325),
        (1000.0, 89.875),
        (2000.0, 79.495),
        (3000.0, 70.109),
    ] {
        near(atmosphere_kpa(metres).unwrap(), kpa, 0.02);
    }
    // Published: water boils at 89.93 °C at 70 kPa (table above).
    near(
        water_saturation_c(atmosphere_kpa(3011.0).unwrap()),
        89.93,
        0.05,
    );
    assert!(matches!(
        atmosphere_kpa(20_000.0),
        Err(CoolantError::Height { .. })
    ));
}

/// Published (computed): leak-flow page, 50 vol % pure ethylene glycol at 20 and 90 °C, and its
/// contraction coefficient; known to ±12 % between sources.
#[test]
fn density_and_viscosity_used_for_leak_flow() {
    let half = mixture(Glycol::Ethylene, Basis::Pure, 50.0);
    near(half.density(20.0).unwrap(), 1068.3, 0.005 * 1068.3);
    near(half.density(90.0).unwrap(), 1021.8, 0.005 * 1021.8);
    near(half.viscosity_mpa_s(20.0).unwrap(), 3.980, 0.05 * 3.98);
    near(half.viscosity_mpa_s(90.0).unwrap(), 0.868, 0.05 * 0.868);
    near(half.expansion_per_k(20.0).unwrap(), 5.108e-4, 0.01e-4);
    let inhibited = mixture(Glycol::Ethylene, Basis::Concentrate, 50.0);
    near(inhibited.expansion_per_k(20.0).unwrap(), 4.06e-4, 0.01e-4);
}

/// Computed from the contraction coefficient 5.1e-4 /K: 10 L change by 0.5 mL, 40 L by 2.0 mL
/// for 0.1 K; the inhibited series may differ by the ±12 % between sources and rounding.
#[test]
fn expansion_room() {
    let half = mixture(Glycol::Ethylene, Basis::Pure, 50.0);
    near(
        half.expansion_room_ml(10_000.0, 20.0, 20.1).unwrap(),
        0.5,
        0.05,
    );
    near(
        half.expansion_room_ml(40_000.0, 20.0, 20.1).unwrap(),
        2.0,
        0.1,
    );
    // Published (ASHRAE): 4.11 % from 20 to 90 °C.
    let inhibited = mixture(Glycol::Ethylene, Basis::Concentrate, 50.0);
    near(
        inhibited.expansion_room_ml(10_000.0, 20.0, 90.0).unwrap(),
        411.0,
        2.0,
    );
}

/// Source: ASHRAE Handbook, Fundamentals, density of aqueous solutions of ethylene glycol, rows 200
/// to 250 °F. Kind: published. Density within 0.5 %, growth from 21 °C within 0.3 points, up to
/// 121.1 °C.
#[test]
fn inhibited_ethylene_is_known_to_121_degrees() {
    let rows = table("glycol_ashrae_density_hot.csv");
    let celsius = |row: &[String]| ((number(&row[0]) - 32.0) / 1.8).min(121.1);
    let si = |pounds: &String| number(pounds) * 16.018_463;
    let mut hot = 0;
    for row in &rows {
        for (column, percent) in (1..=6).zip([10.0, 20.0, 30.0, 40.0, 50.0, 60.0]) {
            let coolant = mixture(Glycol::Ethylene, Basis::Concentrate, percent);
            let (t, wanted) = (celsius(row), si(&row[column]));
            near(coolant.density(t).unwrap(), wanted, 0.005 * wanted);
            let grown = si(&rows[0][column]) / wanted - 1.0;
            let cold = celsius(&rows[0]);
            near(coolant.expansion(cold, t).unwrap(), grown, 0.003);
            hot += usize::from(t > 100.0);
        }
    }
    assert_eq!(hot, 24);
    let half = mixture(Glycol::Ethylene, Basis::Concentrate, 50.0);
    near(half.density_published_to_c(), 121.1, 0.0);
    // Below 10 % plain water has a part, and its table ends at 100 °C.
    let thin = mixture(Glycol::Ethylene, Basis::Concentrate, 5.0);
    near(thin.density_published_to_c(), 100.0, 0.0);
}

/// Source: IAPWS-95 by `CoolProp` 8.0.0, saturated water at 110 and 120 °C: 950.9 and 943.1 kg/m³,
/// 0.2546 and 0.2320 mPa·s. Kind: published. Above 100 °C the tables of coolant are continued; for plain
/// water the true values are known. Density within 0.5 %; viscosity within 4 %, of which the
/// correlation for plain water has 2 % already at 100 °C.
#[test]
fn continued_beyond_the_tables_plain_water_is_met() {
    let water = mixture(Glycol::Ethylene, Basis::Pure, 0.0);
    for (celsius, density, viscosity) in [(110.0, 950.9, 0.2546), (120.0, 943.1, 0.2320)] {
        near(water.density(celsius).unwrap(), density, 0.005 * density);
        near(
            water.viscosity_mpa_s(celsius).unwrap(),
            viscosity,
            0.04 * viscosity,
        );
    }
}

/// Second method: the parabola and the curve that continue a table must leave it without a step or
/// a kink, and what is hotter must be thinner and lighter. Kind: arithmetic.
#[test]
fn continued_tables_have_no_step() {
    for glycol in [Glycol::Ethylene, Glycol::Propylene] {
        for (basis, percent) in [
            (Basis::Pure, 20.0),
            (Basis::Pure, 50.0),
            (Basis::Concentrate, 5.0),
            (Basis::Concentrate, 30.0),
            (Basis::Concentrate, 60.0),
        ] {
            let coolant = mixture(glycol, basis, percent);
            let density = |celsius: f64| coolant.density(celsius).unwrap();
            let viscosity = |celsius: f64| coolant.viscosity_mpa_s(celsius).unwrap();
            for end in [coolant.density_published_to_c(), 100.0] {
                near(density(end + 1e-6), density(end), 1e-4 * density(end));
                let before = density(end) - density(end - 1.0);
                let after = density(end + 1.0) - density(end);
                near(after, before, 0.15 * before.abs());
            }
            near(viscosity(100.000_001), viscosity(100.0), 1e-6);
            let mut last = (density(90.0), viscosity(90.0));
            for celsius in [95.0, 100.0, 105.0, 110.0, 115.0, 120.0, 125.0] {
                let now = (density(celsius), viscosity(celsius));
                assert!(now.0 < last.0 && now.1 < last.1, "{glycol} {celsius}");
                last = now;
            }
        }
    }
}

#[test]
fn outside_the_correlations_is_refused_with_the_limits() {
    let eg = Glycol::Ethylene;
    let told = Mixture::new(eg, Basis::Pure, 60.0).unwrap_err().to_string();
    assert!(told.contains("0 to 57.4 %"), "{told}");
    assert!(Mixture::new(eg, Basis::Concentrate, 60.0).is_ok());
    assert!(Mixture::new(eg, Basis::Concentrate, 61.0).is_err());
    assert!(Mixture::new(eg, Basis::Concentrate, -1.0).is_err());
    assert!(Mixture::new(eg, Basis::Concentrate, f64::NAN).is_err());
    let half = mixture(eg, Basis::Concentrate, 50.0);
    let told = half.density(130.0).unwrap_err().to_string();
    assert!(told.contains("-35.0 to 125.0 °C"), "{told}");
    assert!(half.density(f64::NAN).is_err());
    let weak = mixture(eg, Basis::Concentrate, 20.0);
    let told = weak.viscosity_mpa_s(-20.0).unwrap_err().to_string();
    assert!(told.contains("-9.0 °C"), "{told}");
    assert!(half.boil_c(10.0).is_err());
    assert!(half.boil_c(500.0).is_err());
}

/// The strip between plain water and the tables' 10 % must join both ends and lie between the
/// pure series' neighbours (published, as above): within 0.5 K at 5 %.
#[test]
fn thin_mixtures_lie_between_water_and_the_table() {
    for glycol in [Glycol::Ethylene, Glycol::Propylene] {
        near(
            mixture(glycol, Basis::Concentrate, 0.0).freeze_c(),
            0.0,
            0.05,
        );
        let five = mixture(glycol, Basis::Concentrate, 5.0);
        near(
            five.freeze_c(),
            mixture(glycol, Basis::Pure, 5.0).freeze_c(),
            0.5,
        );
        near(
            five.density(20.0).unwrap(),
            mixture(glycol, Basis::Pure, 5.0).density(20.0).unwrap(),
            5.0,
        );
        let (below, above) = (
            mixture(glycol, Basis::Concentrate, 9.999),
            mixture(glycol, Basis::Concentrate, 10.0),
        );
        near(below.freeze_c(), above.freeze_c(), 0.01);
        near(
            below.viscosity_mpa_s(20.0).unwrap(),
            above.viscosity_mpa_s(20.0).unwrap(),
            0.001,
        );
    }
}

/// Both directions must agree; the values are those of the published series.
#[test]
fn strength_from_a_freeze_point_scale() {
    let eg = from_refractometer(
        Glycol::Ethylene,
        Basis::Concentrate,
        -37.11,
        SCALE_READ_TO_K,
    )
    .unwrap();
    near(eg.percent, 50.0, 0.1);
    assert!(eg.lowest < 50.0 && eg.highest > 50.0 && eg.highest - eg.lowest < 2.0);
    near(
        from_refractometer(Glycol::Ethylene, Basis::Pure, -26.74, SCALE_READ_TO_K)
            .unwrap()
            .percent,
        40.0,
        0.1,
    );
    near(
        from_refractometer(Glycol::Propylene, Basis::Pure, -20.6, SCALE_READ_TO_K)
            .unwrap()
            .percent,
        40.0,
        1.0,
    );
    near(
        from_refractometer(Glycol::Ethylene, Basis::Concentrate, 0.0, SCALE_READ_TO_K)
            .unwrap()
            .percent,
        0.0,
        0.2,
    );
    let off = from_refractometer(Glycol::Ethylene, Basis::Concentrate, -60.0, SCALE_READ_TO_K)
        .unwrap_err();
    assert!(off.to_string().contains("do not add water"), "{off}");
    assert!(
        from_refractometer(Glycol::Ethylene, Basis::Concentrate, 5.0, SCALE_READ_TO_K).is_err()
    );
}

/// From memory: an ethylene scale shows propylene as better protected than it is, more so the
/// stronger it is. At 50 vol % propylene (−33.6 °C) the error is some 5 to 15 K.
#[test]
fn propylene_on_an_ethylene_scale_protects_less_than_it_shows() {
    let mut promised_too_much = 0.0;
    for shown in [-5.0, -10.0, -20.0, -30.0, -40.0] {
        let real = propylene_on_ethylene_scale(shown).unwrap();
        assert!(real - shown > promised_too_much, "{shown}: {real}");
        promised_too_much = real - shown;
    }
    let real = propylene_on_ethylene_scale(-44.0).unwrap();
    assert!((5.0..15.0).contains(&(real + 44.0)), "{real}");
}

/// Published: specific gravities at 15.6 °C of pure propylene glycol, Lange's Handbook, 15th ed.,
/// table 5.13: 1.017 / 1.024 / 1.032 / 1.040 at 20 / 30 / 40 / 50 vol %. The two sources differ by
/// up to 0.4 % in density (±0.5 % allowed); the range that is told must cover the true strength.
#[test]
fn hydrometer_on_propylene() {
    for (gravity, percent) in [(1.017, 20.0), (1.024, 30.0), (1.032, 40.0), (1.040, 50.0)] {
        let read = from_hydrometer(Glycol::Propylene, Basis::Pure, gravity, 15.6).unwrap();
        let of = mixture(Glycol::Propylene, Basis::Pure, percent);
        near(of.density(15.6).unwrap(), gravity * 999.0, 0.005 * 999.0);
        assert!(
            read.lowest <= percent && percent <= read.highest,
            "{read:?}"
        );
        assert!(read.lowest < read.percent && read.percent < read.highest);
    }
}

/// Published densities (ASHRAE table): 50 % at 60 °C weighs 1052.0 kg/m³. Without the temperature
/// correction the same float reading would be taken for a far weaker coolant.
#[test]
fn hydrometer_is_corrected_for_temperature() {
    let read = |gravity: f64, celsius: f64| {
        from_hydrometer(Glycol::Ethylene, Basis::Concentrate, gravity, celsius).unwrap()
    };
    near(read(1052.04 / 999.0, 60.0).percent, 50.0, 0.3);
    near(read(1073.35 / 999.0, 20.0).percent, 50.0, 0.3);
    assert!(read(1052.04 / 999.0, 20.0).percent < 38.0);
    assert!(from_hydrometer(Glycol::Ethylene, Basis::Concentrate, 1.2, 20.0).is_err());
    assert!(from_hydrometer(Glycol::Ethylene, Basis::Concentrate, 0.9, 20.0).is_err());
    assert!(from_hydrometer(Glycol::Ethylene, Basis::Concentrate, 1.05, 110.0).is_err());
}

/// Arithmetic.
#[test]
fn drain_and_fill() {
    near(
        replace_ml(8000.0, 30.0, 50.0, Filling::Undiluted).unwrap(),
        2285.7,
        0.1,
    );
    near(
        replace_ml(8000.0, 30.0, 50.0, Filling::Percent(95.0)).unwrap(),
        2461.5,
        0.1,
    );
    near(
        replace_ml(8000.0, 60.0, 50.0, Filling::Water).unwrap(),
        1333.3,
        0.1,
    );
    near(
        replace_ml(8000.0, 50.0, 50.0, Filling::Water).unwrap(),
        0.0,
        1e-9,
    );
    let told = replace_ml(8000.0, 30.0, 55.0, Filling::Half)
        .unwrap_err()
        .to_string();
    assert!(told.contains("50 %") && told.contains("55 %"), "{told}");
    assert!(replace_ml(8000.0, 30.0, 50.0, Filling::Water).is_err());
    assert!(replace_ml(8000.0, 30.0, 120.0, Filling::Undiluted).is_err());
    assert!(replace_ml(0.0, 30.0, 50.0, Filling::Undiluted).is_err());
    // Half runs out each time: 30 → 65 → 82.5 % of the undiluted, 30 → 40 → 45 → 47.5 → 48.75 %
    // of the half-and-half; half a per cent is near enough.
    assert_eq!(
        goes_needed(8000.0, 4000.0, 30.0, 65.0, Filling::Undiluted).unwrap(),
        Some(1)
    );
    assert_eq!(
        goes_needed(8000.0, 4000.0, 30.0, 80.0, Filling::Undiluted).unwrap(),
        Some(2)
    );
    assert_eq!(
        goes_needed(8000.0, 4000.0, 30.0, 49.0, Filling::Half).unwrap(),
        Some(4)
    );
    assert_eq!(
        goes_needed(8000.0, 10.0, 30.0, 49.9, Filling::Half).unwrap(),
        None
    );
}

/// Arithmetic.
#[test]
fn topping_up_with_water_thins() {
    near(
        after_topping_up(8000.0, 50.0, 1500.0, Filling::Water, 1).unwrap(),
        40.625,
        1e-9,
    );
    near(
        after_topping_up(8000.0, 50.0, 1500.0, Filling::Water, 3).unwrap(),
        26.819,
        0.001,
    );
    near(
        after_topping_up(8000.0, 30.0, 8000.0, Filling::Half, 1).unwrap(),
        50.0,
        1e-9,
    );
    // The sum backwards: between one loss of 3.71 L and many small ones; the true 4.5 L lie between.
    let (least, most) = liquid_lost_ml(8000.0, 50.0, 26.819).unwrap();
    assert!(least < 4500.0 && 4500.0 < most, "{least} {most}");
    near(
        liquid_lost_ml(8000.0, 50.0, 40.625).unwrap().0,
        1500.0,
        0.01,
    );
    assert!(liquid_lost_ml(8000.0, 40.0, 45.0).is_err());
    // Topping up 2 L of 8 L at 40 % to 50 %: (50·8 − 40·6) / 2 = 80 %.
    near(
        topping_strength(8000.0, 2000.0, 40.0, 50.0).unwrap(),
        80.0,
        1e-9,
    );
    // Over 60 %: water (common practice).
    near(
        topping_strength(8000.0, 1000.0, 70.0, 50.0).unwrap(),
        0.0,
        1e-9,
    );
    near(
        topping_strength(8000.0, 500.0, 20.0, 50.0).unwrap(),
        100.0,
        1e-9,
    );
    assert!(topping_strength(8000.0, 0.0, 40.0, 50.0).is_err());
}

/// Common practice: keep above 30 %, below 60 %.
#[test]
fn warnings_about_strength_and_frost() {
    let band = StrengthBand::default();
    let half = mixture(Glycol::Ethylene, Basis::Concentrate, 50.0);
    assert!(warnings(50.0, &band, Some((&half, -30.0))).is_empty());
    assert!(matches!(
        warnings(50.0, &band, Some((&half, -40.0)))[..],
        [Warning::Freezes { .. }]
    ));
    assert!(matches!(
        warnings(26.8, &band, None)[..],
        [Warning::Weak { .. }]
    ));
    assert!(matches!(
        warnings(70.0, &band, None)[..],
        [Warning::Strong { .. }]
    ));
}
