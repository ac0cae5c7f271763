//! Units read and printed. Kind: definitions (international yard and pound 1959, gallons by law)
//! and the project's own promises about what is refused.

use proptest::prelude::{any, prop, prop_assert, prop_assert_eq, proptest};
use seepwise::measure::units::{
    Preferences, PressureUnit, RateUnit, TemperatureUnit, TimeUnit, Unit, UnitError, VolumeUnit,
    pressure_kpa, rate_ml_per_min, rounded, temperature_c, volume_ml,
};

fn near(found: f64, wanted: f64, tolerance: f64) {
    assert!(
        (found - wanted).abs() <= tolerance,
        "{found} is not {wanted} ± {tolerance}"
    );
}

#[test]
fn pressures_as_people_write_them() {
    // Published: 15 psi = 103.42 kPa, 7 psi = 48 kPa (definition of the pound and the inch).
    for (text, kpa) in [
        ("15 psi", 103.421_359),
        ("15psi", 103.421_359),
        (" 7 PSI ", 48.263_301),
        ("1.0 bar", 100.0),
        ("103kPa", 103.0),
        ("-0.5 bar", -50.0),
        ("0", 0.0),
        ("0 psi", 0.0),
    ] {
        near(pressure_kpa(text).unwrap(), kpa, 1e-5);
    }
}

#[test]
fn temperatures_as_people_write_them() {
    // Published: the Fahrenheit scale's definition; -40 is the same on both.
    for (text, celsius) in [
        ("-37 °C", -37.0),
        ("-37°C", -37.0),
        ("\u{2212}37 C", -37.0),
        ("-34 F", -36.666_667),
        ("-40 °F", -40.0),
        ("265 °F", 129.444_444),
        ("20 deg C", 20.0),
    ] {
        near(temperature_c(text).unwrap(), celsius, 1e-5);
    }
}

#[test]
fn volumes_and_rates_as_people_write_them() {
    // Published: US gallon 231 cubic inches, imperial gallon 4.54609 L, eight pints each.
    for (text, ml) in [
        ("1.5 L", 1500.0),
        ("250 mL", 250.0),
        ("250ml", 250.0),
        ("2 US pints", 946.352_946),
        ("1 imperial pint", 568.261_25),
        ("1 imperial gallon", 4546.09),
        ("2.5 US gallons", 9_463.529_46),
        ("1 US gal", 3_785.411_784),
        ("0", 0.0),
    ] {
        near(volume_ml(text).unwrap(), ml, 1e-4);
    }
    for (text, rate) in [
        ("0.6 mL/min", 0.6),
        ("1 L/hour", 16.666_667),
        ("0.5 L per week", 0.049_603),
        ("1 US pint/h", 7.886_275),
        ("3 L/day", 2.083_333),
    ] {
        near(rate_ml_per_min(text).unwrap(), rate, 1e-5);
    }
}

#[test]
fn what_could_mean_two_things_is_refused_with_what_to_write() {
    let told = |error: UnitError| error.to_string();
    let pressure = told(pressure_kpa("15").unwrap_err());
    assert!(
        pressure.contains("15 psi or 15 kPa or 15 bar"),
        "{pressure}"
    );
    let temperature = told(temperature_c("0").unwrap_err());
    assert!(temperature.contains("0 °C or 0 °F"), "{temperature}");
    let volume = told(volume_ml("2 pints").unwrap_err());
    assert!(
        volume.contains("`2 US pints` or `2 imperial pints`"),
        "{volume}"
    );
    let gallon = told(volume_ml("1 gallon").unwrap_err());
    assert!(
        gallon.contains("`1 US gallon` or `1 imperial gallon`"),
        "{gallon}"
    );
    let rate = told(rate_ml_per_min("1 pint/hour").unwrap_err());
    assert!(rate.contains("US pint"), "{rate}");
    assert!(matches!(
        rate_ml_per_min("5"),
        Err(UnitError::NoUnit { .. })
    ));
    assert!(matches!(
        rate_ml_per_min("5 mL"),
        Err(UnitError::UnknownUnit { .. })
    ));
}

#[test]
fn what_is_no_quantity_is_refused() {
    assert!(matches!(
        pressure_kpa("psi"),
        Err(UnitError::NoNumber { .. })
    ));
    assert!(matches!(pressure_kpa(""), Err(UnitError::NoNumber { .. })));
    assert!(matches!(
        pressure_kpa("--3 psi"),
        Err(UnitError::NoNumber { .. })
    ));
    assert!(matches!(
        pressure_kpa("1.2.3 psi"),
        Err(UnitError::NoNumber { .. })
    ));
    assert!(matches!(
        pressure_kpa("nan psi"),
        Err(UnitError::NoNumber { .. })
    ));
    assert!(matches!(
        pressure_kpa("1,5 bar"),
        Err(UnitError::Comma { .. })
    ));
    assert!(matches!(
        pressure_kpa("15 °C"),
        Err(UnitError::UnknownUnit { .. })
    ));
    assert!(matches!(
        pressure_kpa("-2 bar"),
        Err(UnitError::Impossible { .. })
    ));
    assert!(matches!(
        temperature_c("-300 °C"),
        Err(UnitError::Impossible { .. })
    ));
    assert!(matches!(
        volume_ml("-1 L"),
        Err(UnitError::Impossible { .. })
    ));
    assert!(matches!(
        rate_ml_per_min("-1 L/h"),
        Err(UnitError::Impossible { .. })
    ));
}

#[test]
fn printed_with_the_digits_a_value_deserves() {
    let metric = Preferences::default();
    let us: Preferences = "US".parse().unwrap();
    let imperial: Preferences = "imperial".parse().unwrap();
    let mixed: Preferences = "metric, bar, F".parse().unwrap();
    assert_eq!(metric.pressure(103.42, 1.0), "103 kPa");
    assert_eq!(us.pressure(103.42, 1.0), "15.0 psi");
    assert_eq!(mixed.pressure(103.42, 1.0), "1.03 bar");
    assert_eq!(metric.temperature(-37.114, 1.0), "-37 °C");
    assert_eq!(us.temperature(-37.114, 1.0), "-35 °F");
    assert_eq!(imperial.temperature(-37.114, 1.0), "-37 °C");
    assert_eq!(metric.temperature(-0.2, 1.0), "0 °C");
    assert_eq!(metric.volume(2285.7, 50.0), "2.29 L");
    assert_eq!(metric.volume(410.4, 10.0), "410 mL");
    assert_eq!(us.volume(410.4, 10.0), "0.87 US pints");
    assert_eq!(us.volume(473.176, 100.0), "1.0 US pints");
    assert_eq!(imperial.volume(4546.09, 5000.0), "1 imperial gallon");
    assert_eq!(metric.rate(0.6, 0.05), "0.60 mL/min");
    assert_eq!(us.rate(7.886, 1.0), "1.0 US pints/hour");
    assert_eq!(rounded(1234.0, 100.0), "1200");
    assert_eq!(rounded(1234.0, 0.0), "1230");
    assert_eq!(rounded(0.012_345, 0.0), "0.0123");
    assert_eq!(rounded(0.0, 0.0), "0");
}

#[test]
fn unknown_preferences_are_refused() {
    let error = "metric,stone".parse::<Preferences>().unwrap_err();
    assert!(error.to_string().contains("`stone`"), "{error}");
}

proptest! {
    #[test]
    fn every_unit_goes_there_and_back(value in -1e4..1e4_f64) {
        for unit in PressureUnit::ALL {
            prop_assert!((unit.of_base(unit.to_base(value)) - value).abs() < 1e-8);
        }
        for unit in TemperatureUnit::ALL {
            prop_assert!((unit.of_base(unit.to_base(value)) - value).abs() < 1e-8);
        }
        for &volume in VolumeUnit::ALL {
            prop_assert!((volume.of_base(volume.to_base(value)) - value).abs() < 1e-8);
            for per in TimeUnit::ALL {
                let unit = RateUnit { volume, per };
                prop_assert!((unit.of_base(unit.to_base(value)) - value).abs() < 1e-8);
            }
        }
    }

    #[test]
    fn every_name_is_read_again(value in 0.0..1e4_f64, which in any::<prop::sample::Index>()) {
        let volume = VolumeUnit::ALL[which.index(VolumeUnit::ALL.len())];
        for one in [true, false] {
            let text = format!("{value} {}", volume.name(one));
            prop_assert_eq!(volume_ml(&text).unwrap().to_bits(), volume.to_base(value).to_bits());
            let rate = RateUnit { volume, per: TimeUnit::ALL[which.index(4)] };
            let text = format!("{text}/{}", rate.per.name());
            prop_assert_eq!(rate_ml_per_min(&text).unwrap().to_bits(), rate.to_base(value).to_bits());
        }
        let pressure = PressureUnit::ALL[which.index(3)];
        prop_assert_eq!(pressure_kpa(&format!("{value}{}", pressure.name(false))).unwrap().to_bits(), pressure.to_base(value).to_bits());
        let temperature = TemperatureUnit::ALL[which.index(2)];
        prop_assert_eq!(temperature_c(&format!("{value} {}", temperature.name(false))).unwrap().to_bits(), temperature.to_base(value).to_bits());
    }

    #[test]
    fn what_is_printed_reads_back_to_within_its_uncertainty(
        kpa in -100.0..500.0_f64,
        celsius in -60.0..200.0_f64,
        ml in 0.0..60_000.0_f64,
        spread in 0.01..100.0_f64,
    ) {
        for words in ["metric", "US", "imperial", "bar,F,mL"] {
            let likes: Preferences = words.parse().unwrap();
            if kpa - spread > -101.0 {
                let again = pressure_kpa(&likes.pressure(kpa, spread)).unwrap();
                prop_assert!((again - kpa).abs() <= spread * 0.5 + 1e-9);
            }
            let again = temperature_c(&likes.temperature(celsius, spread)).unwrap();
            prop_assert!((again - celsius).abs() <= spread * 0.5 + 1e-9);
            let again = volume_ml(&likes.volume(ml, spread)).unwrap();
            prop_assert!((again - ml).abs() <= spread * 0.5 + 1e-9);
        }
    }
}
