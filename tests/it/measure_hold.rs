//! Hold test against figures from outside and against a simulator. Kinds: P published or computed
//! twice from the state equation, C common practice, M from memory.

use seepwise::measure::hold::{
    AirSpace, Expansion, Hold, HoldError, HoldResult, KPA_PER_PSI, LeakLaw, LooksLike, Reading,
    Verdict, Vessel, read_hold,
};
use seepwise::measure::plan::{LossWhen, PlanRequest, ReportedLoss, plan};

use crate::gauge_simulator::{Dice, STRATA, Simulated, Stratum, draw, draw_for};

const PSI: f64 = KPA_PER_PSI;

fn close(found: f64, wanted: f64, tolerance: f64) {
    assert!(
        (found - wanted).abs() <= tolerance,
        "{found} is not {wanted} ± {tolerance}"
    );
}

// ---- The state equation ------------------------------------------------------------------------

fn litre(stretch_ml_per_kpa: f64) -> Vessel {
    Vessel {
        air_ml: 1000.0,
        start_gauge_kpa: 12.0 * PSI,
        start_c: 20.0,
        stretch_ml_per_kpa,
    }
}

/// 1000 mL of air at 12 psi and 20 °C (P, computed two ways: closed form and integration).
#[test]
fn falls_of_a_litre_of_air() {
    for (stretch, leaks, laws, cooled_air, cooled_coolant) in [
        (
            0.0,
            [0.18388, 1.82240],
            [16.7329, 15.2317, 15.9343],
            0.62788,
            0.93541,
        ),
        (
            0.2,
            [0.17736, 1.75890],
            [16.2375, 14.8168, 15.4829],
            0.60565,
            0.90252,
        ),
    ] {
        let vessel = litre(stretch);
        let fall = |gauge: f64| 12.0 * PSI - gauge;
        close(
            fall(vessel.gauge_after_leak(0.1, LeakLaw::Constant, 10.0)),
            leaks[0],
            2e-5,
        );
        close(
            fall(vessel.gauge_after_leak(1.0, LeakLaw::Constant, 10.0)),
            leaks[1],
            2e-5,
        );
        for (law, wanted) in [LeakLaw::Constant, LeakLaw::Laminar, LeakLaw::Orifice]
            .into_iter()
            .zip(laws)
        {
            close(fall(vessel.gauge_after_leak(10.0, law, 10.0)), wanted, 2e-4);
        }
        close(fall(vessel.gauge_after(0.0, 19.0)), cooled_air, 2e-5);
        close(
            fall(vessel.gauge_after(10_000.0 * 5.108e-4, 20.0)),
            cooled_coolant,
            2e-4,
        );
    }
}

/// Minutes from 12 psi to 10 and 6 psi for 1 mL/min (P, computed).
#[test]
fn minutes_to_a_pressure() {
    for (law, to_ten, to_six) in [
        (LeakLaw::Constant, 80.98, 289.91),
        (LeakLaw::Laminar, 88.80, 413.81),
        (LeakLaw::Orifice, 84.77, 344.65),
    ] {
        close(
            litre(0.0).minutes_to(10.0 * PSI, 1.0, law).unwrap(),
            to_ten,
            0.01,
        );
        close(
            litre(0.0).minutes_to(6.0 * PSI, 1.0, law).unwrap(),
            to_six,
            0.01,
        );
    }
    assert_eq!(
        litre(0.0).minutes_to(13.0 * PSI, 1.0, LeakLaw::Laminar),
        None
    );
}

/// 1 mL/min for 10 minutes, fall in psi by air space and stretch (P, computed).
#[test]
fn falls_by_air_space_and_stretch() {
    for (air_ml, stretch, wanted, tolerance) in [
        (100.0, 0.0, 2.4269, 1e-4),
        (250.0, 0.0, 1.0268, 1e-4),
        (500.0, 0.0, 0.5234, 1e-4),
        (2000.0, 0.0, 0.1328, 1e-4),
        (4000.0, 0.0, 0.0666, 1e-4),
        (100.0, 0.2, 1.85, 0.006),
        (100.0, 1.0, 0.93, 0.006),
        (100.0, 2.0, 0.57, 0.006),
        (100.0, 3.0, 0.41, 0.006),
        (250.0, 0.2, 0.90, 0.006),
        (250.0, 1.0, 0.61, 0.006),
        (250.0, 2.0, 0.43, 0.006),
        (250.0, 3.0, 0.33, 0.006),
        (1000.0, 1.0, 0.22, 0.006),
        (1000.0, 2.0, 0.19, 0.006),
        (1000.0, 3.0, 0.17, 0.006),
        (8000.0, 0.0, 0.03, 0.006),
        (8000.0, 3.0, 0.03, 0.006),
    ] {
        let vessel = Vessel {
            air_ml,
            ..litre(stretch)
        };
        close(
            (12.0 * PSI - vessel.gauge_after_leak(1.0, LeakLaw::Constant, 10.0)) / PSI,
            wanted,
            tolerance,
        );
    }
}

/// The tester joined cold and the engine warmed: coolant grown by 4.11 % of 10 L, air at 70 °C,
/// steam not counted (P, computed). Tolerance: the digits given.
#[test]
fn warming_with_the_tester_on() {
    let warmed = |air_ml, start_psi: f64, stretch| {
        let vessel = Vessel {
            air_ml,
            start_gauge_kpa: start_psi * PSI,
            ..litre(stretch)
        };
        vessel.gauge_after(-411.0, 70.0) / PSI
    };
    for (stretch, one_litre, two_litres, from_zero) in [
        (0.0, 38.0, 25.0, 15.0),
        (1.0, 29.0, 23.0, 11.0),
        (3.0, 23.0, 21.0, 8.0),
    ] {
        close(warmed(1000.0, 12.0, stretch), one_litre, 0.7);
        close(warmed(2000.0, 12.0, stretch), two_litres, 0.7);
        // The table starts from no pressure.
        if stretch > 0.0 {
            close(warmed(1000.0, 0.0, stretch), from_zero, 0.7);
        }
    }
}

/// A sound system of 10 L with 1 L of air, 10 K colder by morning (P, computed, 5.1e-4 /K).
#[test]
fn a_cold_morning() {
    for (stretch, wanted) in [(0.0, -2.2), (0.2, -2.1), (1.0, -1.9), (2.0, -1.6)] {
        close(
            (litre(stretch).gauge_after(51.0, 10.0) - 12.0 * PSI) / PSI,
            wanted,
            0.06,
        );
    }
}

/// The smallest leak that one step of 0.25 psi shows in 10 minutes (P, computed).
#[test]
fn one_step_of_the_gauge() {
    for (air_ml, wanted) in [(250.0, 0.24), (500.0, 0.47), (1000.0, 0.95), (2000.0, 1.89)] {
        let vessel = Vessel {
            air_ml,
            ..litre(0.0)
        };
        close(vessel.room_for(11.75 * PSI, 20.0) / 10.0, wanted, 0.006);
    }
}

/// Expansion of 50/50 from 20 to 90 °C lies between the published 4.1 and 4.55 % (P), and a
/// density of known shape is matched exactly.
#[test]
fn expansion() {
    let grown = 100.0 * Expansion::HALF_ETHYLENE.growth(20.0, 90.0);
    assert!((4.1..=4.55).contains(&grown), "{grown}");
    let exact = Expansion {
        per_k_at_20c: 4e-4,
        per_k2: 5e-6,
    };
    let back = Expansion::from_density(|celsius| 1000.0 / (1.0 + exact.growth(20.0, celsius)));
    close(back.per_k_at_20c, 4e-4, 1e-12);
    close(back.per_k2, 5e-6, 1e-14);
}

// ---- Single logs -------------------------------------------------------------------------------

fn noted(minute: f64, gauge_kpa: f64, celsius: f64) -> Reading {
    Reading {
        minute,
        gauge_kpa,
        coolant_c: Some(celsius),
        air_c: Some(celsius),
    }
}

fn bare(minute: f64, gauge_kpa: f64) -> Reading {
    Reading {
        minute,
        gauge_kpa,
        ..Reading::default()
    }
}

fn read(readings: Vec<Reading>, air_ml: f64) -> HoldResult {
    let hold = Hold {
        graduation_kpa: Some(0.5 * PSI),
        ..Hold::new(readings, AirSpace::Known(air_ml), 10.0)
    };
    read_hold(&hold).unwrap()
}

fn to_step(gauge: f64) -> f64 {
    (gauge / (0.5 * PSI)).round() * 0.5 * PSI
}

/// A quick sag just after pumping that then stands still is settling, no leak (C).
#[test]
fn settling_is_no_leak() {
    let gauge = |minute: f64| 12.0 * PSI - 9.0 * (1.0 - (-minute / 0.3).exp());
    let result = read(
        (0..=90)
            .map(|i| noted(f64::from(i), to_step(gauge(f64::from(i))), 18.0))
            .collect(),
        250.0,
    );
    assert_eq!(result.verdict, Verdict::Holds, "{:?}", result.notes);
    assert_eq!(result.looks_like, LooksLike::Settling);
    assert!(result.settled_after_minute <= 3.0);
    assert!(result.interval_ml_per_min.0 <= 0.0);
}

/// A night 10 K colder takes 1.6–2.2 psi off a sound system (P): never "falls" if it was noted,
/// nor if it was not.
#[test]
fn a_night_of_cooling_is_no_leak() {
    let vessel = litre(2.0);
    let night = |noting: bool| {
        (0..=10)
            .map(|i| {
                let cooled = f64::from(i);
                let gauge = to_step(vessel.gauge_after(
                    10_000.0 * Expansion::HALF_ETHYLENE.growth(20.0 - cooled, 20.0),
                    20.0 - cooled,
                ));
                if noting {
                    noted(60.0 * f64::from(i), gauge, 20.0 - cooled)
                } else {
                    bare(60.0 * f64::from(i), gauge)
                }
            })
            .collect()
    };
    let with = read(night(true), 1000.0);
    assert_ne!(with.verdict, Verdict::Falls, "{:?}", with.notes);
    assert_eq!(with.looks_like, LooksLike::Cooling);
    let hold = Hold {
        graduation_kpa: Some(0.5 * PSI),
        leak_that_matters_ml_per_min: Some(0.1),
        ..Hold::new(night(false), AirSpace::Known(1000.0), 10.0)
    };
    let without = read_hold(&hold).unwrap();
    assert_eq!(without.verdict, Verdict::CannotTell, "{:?}", without.notes);
    assert!(
        without
            .notes
            .iter()
            .any(|note| note.contains("temperature"))
    );
}

/// Out, warm and back: a whole heat cycle that ends where it began has lost nothing; one that ends
/// 3 psi lower at the same temperature has.
#[test]
fn a_heat_cycle() {
    let vessel = Vessel {
        air_ml: 2000.0,
        start_gauge_kpa: 7.0 * PSI,
        ..litre(2.0)
    };
    let warm = |share: f64| 20.0 + 60.0 * (std::f64::consts::PI * share).sin();
    let cycle = |lost_ml: f64| {
        (0..=24)
            .map(|i| {
                let share = f64::from(i) / 24.0;
                let celsius = warm(share);
                let room =
                    lost_ml * share - 10_000.0 * Expansion::HALF_ETHYLENE.growth(20.0, celsius);
                noted(
                    15.0 * f64::from(i),
                    to_step(vessel.gauge_after(room, celsius)),
                    (celsius * 10.0).round() / 10.0,
                )
            })
            .collect()
    };
    let sound = read(cycle(0.0), 2000.0);
    assert_ne!(
        sound.verdict,
        Verdict::Falls,
        "{:?} {:?}",
        sound.interval_ml_per_min,
        sound.notes
    );
    let leaking = read(cycle(400.0), 2000.0);
    assert_eq!(
        leaking.verdict,
        Verdict::Falls,
        "{:?} {:?}",
        leaking.interval_ml_per_min,
        leaking.notes
    );
}

/// A gauge that could not have shown the leak never "holds": 8 L of air shows nothing (C).
#[test]
fn a_large_tank_shows_nothing() {
    let result = read(
        (0..=15)
            .map(|i| noted(f64::from(i), 12.0 * PSI, 18.0))
            .collect(),
        8000.0,
    );
    assert_eq!(result.verdict, Verdict::CannotTell);
    assert!(result.smallest_leak_ml_per_min > 2.0);
    assert!(result.wait_until_minute.is_none_or(|minute| minute > 60.0));
}

/// ±3 K unseen: what they can hide stays open. 10 L and 1 L of air give some 8 mL per kelvin.
#[test]
fn unseen_temperatures_widen_the_interval() {
    let steady = |noting: bool| {
        (0..=30)
            .map(|i| {
                if noting {
                    noted(f64::from(i), 12.0 * PSI, 18.0)
                } else {
                    bare(f64::from(i), 12.0 * PSI)
                }
            })
            .collect()
    };
    let with = read(steady(true), 250.0);
    let without = read(steady(false), 250.0);
    // Three kelvin in 30 minutes: at least 3·4.6/30 mL/min from the coolant alone.
    assert!(
        without.smallest_leak_ml_per_min > 0.46,
        "{}",
        without.smallest_leak_ml_per_min
    );
    assert!(without.smallest_leak_ml_per_min > 1.5 * with.smallest_leak_ml_per_min);
}

/// A draw measures air and hoses together (Boyle): the same leak is found as with both known.
#[test]
fn air_from_a_draw() {
    let vessel = Vessel {
        air_ml: 600.0,
        ..litre(2.0)
    };
    let readings: Vec<Reading> = (0..=30)
        .map(|i| {
            noted(
                f64::from(i),
                to_step(vessel.gauge_after_leak(2.0, LeakLaw::Orifice, f64::from(i))),
                18.0,
            )
        })
        .collect();
    let after_kpa = vessel.gauge_after(200.0, 20.0);
    let hold = Hold {
        graduation_kpa: Some(0.5 * PSI),
        ..Hold::new(
            readings,
            AirSpace::Draw {
                drawn_ml: 200.0,
                before_kpa: 12.0 * PSI,
                after_kpa,
            },
            10.0,
        )
    };
    let result = read_hold(&hold).unwrap();
    let (low, high) = result.interval_ml_per_min;
    assert!(
        low < 2.0 && 2.0 < high && high < 3.5 && low > 1.0,
        "{low} {high}"
    );
    assert_eq!(result.verdict, Verdict::Falls);
}

#[test]
fn bands_follow_the_log() {
    let bands = [(0.0, 0.05), (0.05, 0.5), (0.5, 5.0), (5.0, f64::INFINITY)];
    let sound = read(
        (0..=60)
            .map(|i| noted(f64::from(i), 12.0 * PSI, 18.0))
            .collect(),
        250.0,
    )
    .likelihood_of_bands(&bands);
    assert!(
        sound[0] > 0.5 && sound[2] < 0.05 && sound[3] < 1e-3,
        "{sound:?}"
    );
    let vessel = Vessel {
        air_ml: 250.0,
        ..litre(2.0)
    };
    let leak = (0..=30).map(|i| {
        noted(
            f64::from(i),
            to_step(vessel.gauge_after_leak(2.0, LeakLaw::Laminar, f64::from(i))),
            18.0,
        )
    });
    let leak = read(leak.collect(), 250.0).likelihood_of_bands(&bands);
    assert!(
        leak[2] > 0.1 && leak[0] < 1e-3 && leak[3] < 1e-2,
        "{leak:?}"
    );
}

/// The picture: readings as given, the fit near them, the sound system above the fit.
#[test]
fn the_picture() {
    let vessel = Vessel {
        air_ml: 250.0,
        ..litre(2.0)
    };
    let readings: Vec<Reading> = (0..=30)
        .map(|i| {
            noted(
                f64::from(i),
                to_step(vessel.gauge_after_leak(2.0, LeakLaw::Laminar, f64::from(i))),
                18.0,
            )
        })
        .collect();
    let result = read(readings, 250.0);
    assert_eq!(result.points.len(), 31);
    for point in &result.points {
        assert!(
            (point.fitted_kpa - point.read_kpa).abs() < 0.5 * PSI,
            "{point:?}"
        );
        assert!(point.sound_kpa >= point.fitted_kpa - 1e-9);
    }
}

// ---- Bad input ---------------------------------------------------------------------------------

type Change<'a> = &'a dyn Fn(&mut Hold);
type Expected = fn(&HoldError) -> bool;

#[test]
fn bad_logs_are_refused_with_what_to_do() {
    let good: Vec<Reading> = (0..=10).map(|i| bare(f64::from(i), 80.0)).collect();
    let with = |change: &dyn Fn(&mut Hold)| {
        let mut hold = Hold::new(good.clone(), AirSpace::Known(500.0), 10.0);
        change(&mut hold);
        read_hold(&hold).map(|result| result.verdict)
    };
    assert!(with(&|_| ()).is_ok());
    let cases: [(Change, Expected, &str); 19] = [
        (
            &|h| h.readings.truncate(1),
            |e| matches!(e, HoldError::TooFewReadings { found: 1 }),
            "four or more",
        ),
        (
            &|h| h.readings.clear(),
            |e| matches!(e, HoldError::TooFewReadings { found: 0 }),
            "takes two",
        ),
        (
            &|h| h.readings.swap(3, 4),
            |e| matches!(e, HoldError::NotInOrder { .. }),
            "Sort",
        ),
        (
            &|h| h.readings[4].minute = 3.0,
            |e| matches!(e, HoldError::NotInOrder { line: 5, .. }),
            "one reading",
        ),
        (
            &|h| h.readings[4].gauge_kpa = -3.0,
            |e| matches!(e, HoldError::BelowZero { line: 5 }),
            "zero",
        ),
        (
            &|h| h.readings[4].gauge_kpa = f64::NAN,
            |e| matches!(e, HoldError::OutOfRange { line: 5, .. }),
            "Correct",
        ),
        (
            &|h| h.readings[4].gauge_kpa = 1e300,
            |e| matches!(e, HoldError::OutOfRange { .. }),
            "Correct",
        ),
        (
            &|h| h.readings[10].minute = f64::INFINITY,
            |e| matches!(e, HoldError::OutOfRange { .. }),
            "Correct",
        ),
        (
            &|h| h.readings[0].minute = f64::NAN,
            |e| matches!(e, HoldError::OutOfRange { .. }),
            "Correct",
        ),
        (
            &|h| h.readings[4].air_c = Some(900.0),
            |e| matches!(e, HoldError::OutOfRange { .. }),
            "temperature",
        ),
        (
            &|h| h.readings.iter_mut().for_each(|r| r.minute *= 0.1),
            |e| matches!(e, HoldError::EndsWhileSettling { .. }),
            "Go on",
        ),
        (
            &|h| h.readings.iter_mut().for_each(|r| r.gauge_kpa = 0.0),
            |e| matches!(e, HoldError::NoPressure { .. }),
            "Pump",
        ),
        (
            &|h| h.readings[6].gauge_kpa = 180.0,
            |e| matches!(e, HoldError::Rises { .. }),
            "after the last stroke",
        ),
        (
            &|h| h.air = AirSpace::Known(-5.0),
            |e| matches!(e, HoldError::BadInput { .. }),
            "give",
        ),
        (
            &|h| h.air = AirSpace::Between(900.0, 300.0),
            |e| matches!(e, HoldError::EndsSwapped { .. }),
            "Swap",
        ),
        (
            &|h| h.coolant_l = f64::NAN,
            |e| matches!(e, HoldError::BadInput { .. }),
            "give",
        ),
        (
            &|h| h.stretch_ml_per_kpa = (3.0, 1.0),
            |e| matches!(e, HoldError::EndsSwapped { .. }),
            "Swap",
        ),
        (
            &|h| {
                h.air = AirSpace::Draw {
                    drawn_ml: 100.0,
                    before_kpa: 80.0,
                    after_kpa: 80.0,
                }
            },
            |e| matches!(e, HoldError::DrawTooSmall { .. }),
            "Draw more",
        ),
        (
            &|h| {
                h.air = AirSpace::Draw {
                    drawn_ml: 2.0,
                    before_kpa: 80.0,
                    after_kpa: 30.0,
                }
            },
            |e| matches!(e, HoldError::DrawImpossible { .. }),
            "Check",
        ),
    ];
    for (index, (change, expected, advice)) in cases.iter().enumerate() {
        let error = with(*change).expect_err(&format!("case {index}"));
        assert!(expected(&error), "case {index}: {error:?}");
        assert!(error.to_string().contains(advice), "case {index}: {error}");
    }
}

// ---- The simulator -----------------------------------------------------------------------------

/// Counts over many simulated logs.
#[derive(Debug, Default, Clone, Copy)]
struct Count {
    logs: u32,
    covered: u32,
    sound: u32,
    sound_called_falls: u32,
    wrongly_holds: u32,
}

impl Count {
    fn add(&mut self, simulated: &Simulated, result: &HoldResult) {
        let (low, high) = result.interval_ml_per_min;
        let leak = simulated.leak_at_first_reading();
        self.logs += 1;
        self.covered += u32::from(low <= leak && leak <= high);
        if simulated.truth.leak <= 0.0 {
            self.sound += 1;
            self.sound_called_falls += u32::from(result.verdict == Verdict::Falls);
        }
        self.wrongly_holds +=
            u32::from(result.verdict == Verdict::Holds && leak > result.smallest_leak_ml_per_min);
    }
    fn coverage(&self) -> f64 {
        100.0 * f64::from(self.covered) / f64::from(self.logs)
    }
}

/// Over 2,000 seeded logs: the 95 % interval covers 93–98 %, in each stratum at least 90 %; sound
/// systems called falling at most 1 %, with noted cooling too; a leak above the smallest stated one
/// is called holding in at most 2 %; intervals at most three times as wide (median) as those of one
/// who knows the simulator.
#[test]
fn intervals_cover_the_truth() {
    const EACH: u64 = 400;
    let mut all = Count::default();
    let mut ratios = Vec::new();
    for (number, stratum) in (0_u64..).zip(STRATA) {
        let mut count = Count::default();
        for seed in 0..EACH {
            let simulated = draw(&mut Dice::new(1_000_000 + 1000 * seed + number), stratum);
            let result = read_hold(&simulated.hold).unwrap();
            count.add(&simulated, &result);
            all.add(&simulated, &result);
            if seed % 4 == 0 {
                let (low, high) = result.interval_ml_per_min;
                let leak = simulated.leak_at_first_reading();
                let own = 1.96 * simulated.own_spread();
                ratios.push((high - low) / (leak + own - (leak - own).max(0.0)));
            }
        }
        println!("{stratum:?}: {:.1} % {count:?}", count.coverage());
        assert!(count.coverage() >= 90.0, "{stratum:?} {count:?}");
        if matches!(stratum, Stratum::Sealed | Stratum::CoolingNoted) {
            assert!(
                100 * count.sound_called_falls <= count.sound,
                "{stratum:?} {count:?}"
            );
        }
    }
    ratios.sort_by(f64::total_cmp);
    let median = ratios[ratios.len() / 2];
    println!(
        "all: {:.1} % {all:?}, median width {median:.2}",
        all.coverage()
    );
    assert!((93.0..=98.0).contains(&all.coverage()), "{all:?}");
    assert!(100 * all.sound_called_falls <= all.sound, "{all:?}");
    assert!(50 * all.wrongly_holds <= all.logs, "{all:?}");
    assert!(median <= 3.0, "{median}");
}

/// Many note only what they pumped to and where the needle stood at the end. Over 200 seeded logs of two readings in each
/// stratum: the 95 % interval covers at least 90 % in each, 93 % of all, and no more sound systems are called falling than
/// one in a hundred.
#[test]
fn two_readings_cover_the_truth() {
    let mut all = Count::default();
    for (number, stratum) in (0_u64..).zip(STRATA) {
        let mut count = Count::default();
        for seed in 0..200 {
            let mut dice = Dice::new(5_000_000 + 1000 * seed + number);
            let minutes = dice.log_between(10.0, 720.0);
            let simulated = draw_for(&mut dice, stratum, minutes, 1, None);
            let result = read_hold(&simulated.hold).unwrap();
            count.add(&simulated, &result);
            all.add(&simulated, &result);
        }
        println!("{stratum:?}: {:.1} % {count:?}", count.coverage());
        assert!(count.coverage() >= 90.0, "{stratum:?} {count:?}");
    }
    println!("all: {:.1} % {all:?}", all.coverage());
    assert!(all.coverage() >= 93.0, "{all:?}");
    assert!(100 * all.sound_called_falls <= all.sound, "{all:?}");
}

/// Hoses at either end of the stretch that is given, where an interval that is right on average over
/// the band may cover less: still 90 %, over 120 seeded logs of each stratum.
#[test]
fn intervals_at_the_ends_of_the_stretch() {
    for stretch in [1.0, 3.0] {
        let mut all = Count::default();
        for (number, stratum) in (0_u64..).zip(STRATA) {
            let mut count = Count::default();
            for seed in 0..120 {
                let mut dice = Dice::new(3_000_000 + 1000 * seed + number);
                let mut simulated = draw(&mut dice, stratum);
                simulated.truth.stretch = stretch;
                if matches!(simulated.hold.air, AirSpace::Draw { .. }) {
                    // That draw was made with other hoses.
                    simulated.hold.air = AirSpace::Known(simulated.truth.air_ml);
                }
                let simulated = simulated.written_anew(&mut dice);
                let result = read_hold(&simulated.hold).unwrap();
                count.add(&simulated, &result);
                all.add(&simulated, &result);
            }
            println!("stretch {stretch}, {stratum:?}: {:.1} %", count.coverage());
        }
        println!("stretch {stretch}: {:.1} %", all.coverage());
        assert!(all.coverage() >= 90.0, "{stretch}: {all:?}");
    }
}

/// Leaks of twice the theoretical limit (one graduation in the time after settling), read every
/// thirtieth of the hold with temperatures noted: at least 95 % are called falling.
#[test]
fn twice_the_limit_is_seen() {
    const LOGS: u64 = 400;
    let falls = (0..LOGS)
        .filter(|seed| {
            let mut dice = Dice::new(77_000 + seed);
            let minutes = if dice.chance(0.15) {
                dice.between(480.0, 720.0)
            } else {
                dice.log_between(5.0, 120.0)
            };
            let simulated = draw_for(&mut dice, Stratum::Leaking, minutes, 30, Some(2.0));
            read_hold(&simulated.hold).unwrap().verdict == Verdict::Falls
        })
        .count();
    println!("twice the limit: {falls} of {LOGS} fall");
    assert!(falls * 100 >= 95 * usize::try_from(LOGS).unwrap());
}

/// Where the plan's waiting time was kept and temperatures noted, at most 15 % can't be told:
/// sound systems hold, leaks that explain the loss fall.
#[test]
fn the_planned_wait_decides() {
    let (mut logs, mut open, mut sound_held, mut sound, mut leak_held) = (0, 0, 0, 0, 0);
    for seed in 0..600_u64 {
        let mut dice = Dice::new(500_000 + seed);
        let mut simulated = draw_for(&mut dice, Stratum::Sealed, 60.0, 30, None);
        let truth = &mut simulated.truth;
        let loss = ReportedLoss {
            litres: dice.log_between(0.2, 10.0),
            days: 14.0,
            when: LossWhen::Running {
                hours_per_day: dice.between(0.5, 4.0),
            },
        };
        let request = PlanRequest {
            limit_gauge_kpa: 16.0 * PSI,
            ..PlanRequest::car(
                loss,
                truth.air_ml,
                truth.coolant_l,
                truth.start_gauge,
                simulated.graduation,
            )
        };
        let found = plan(&request).unwrap();
        let Some(minutes) = found.minutes else {
            continue;
        };
        let minutes = minutes.ceil().max(5.0);
        truth.minutes = (0..=30)
            .map(|i| (minutes * f64::from(i) / 3.0).round() / 10.0)
            .collect();
        let leaks = dice.chance(0.5);
        if leaks {
            let (laminar, orifice) = found.cold_ml_per_min;
            truth.leak = if truth.law > 0.75 { laminar } else { orifice };
        }
        let mut simulated = simulated.written_anew(&mut dice);
        simulated.hold.leak_that_matters_ml_per_min =
            Some(found.cold_ml_per_min.0.min(found.cold_ml_per_min.1));
        let result = read_hold(&simulated.hold).unwrap();
        logs += 1;
        open += u32::from(result.verdict == Verdict::CannotTell);
        sound += u32::from(!leaks);
        sound_held += u32::from(!leaks && result.verdict == Verdict::Holds);
        leak_held += u32::from(leaks && result.verdict == Verdict::Holds);
    }
    println!(
        "planned waits: {logs} logs, {open} open, {sound_held} of {sound} sound ones hold, {leak_held} leaks hold"
    );
    assert!(logs > 200);
    assert!(100 * open <= 15 * logs, "{open} of {logs}");
    assert!(50 * leak_held <= logs, "{leak_held} of {logs}");
}

/// A log that can't be told yet names a minute; held until then, most can be told.
#[test]
fn the_minute_to_wait_for_decides() {
    let (mut open, mut still_open) = (0, 0);
    for seed in 0..200_u64 {
        let mut dice = Dice::new(800_000 + seed);
        let minutes = dice.between(5.0, 15.0);
        let mut simulated = draw_for(&mut dice, Stratum::Sealed, minutes, 15, None);
        simulated.hold.leak_that_matters_ml_per_min = Some(dice.log_between(0.2, 5.0));
        let matters = simulated.hold.leak_that_matters_ml_per_min;
        let first = read_hold(&simulated.hold).unwrap();
        let Some(until) = first.wait_until_minute else {
            continue;
        };
        assert_eq!(first.verdict, Verdict::CannotTell);
        assert!(until > minutes, "{until} {minutes}");
        open += 1;
        simulated.truth.minutes.extend((1..=20).map(|i| {
            let minute = minutes + (until - minutes) * f64::from(i) / 20.0;
            (minute * 100.0).round() / 100.0
        }));
        let mut later = simulated.written_anew(&mut dice);
        later.hold.leak_that_matters_ml_per_min = matters;
        still_open += u32::from(read_hold(&later.hold).unwrap().verdict == Verdict::CannotTell);
    }
    println!("waited as told: {open} logs, {still_open} still open");
    assert!(open > 50, "{open}");
    assert!(100 * still_open <= 15 * open, "{still_open} of {open}");
}

/// Whatever is typed in, there is an answer or a sentence: finite, ordered, no panic.
#[test]
fn any_log_gets_an_answer() {
    let mut answers = 0;
    for seed in 0..400_u64 {
        let mut dice = Dice::new(4_000_000 + seed);
        let mut minute = 0.0;
        let mut gauge = dice.log_between(1.0, 300.0);
        let count = dice.pick(&[3, 4, 6, 12, 30, 100]);
        let wild = dice.pick(&[0.0, 0.01, 0.1, 0.5]);
        let readings: Vec<Reading> = (0..count)
            .map(|_| {
                let reading = Reading {
                    minute,
                    gauge_kpa: gauge,
                    coolant_c: dice.chance(0.5).then(|| dice.between(-30.0, 120.0)),
                    air_c: dice.chance(0.3).then(|| dice.between(-30.0, 120.0)),
                };
                minute += dice.log_between(0.01, 100.0);
                gauge = (gauge * (1.0 + wild * (dice.unit() - 0.7))).clamp(0.0, 390.0);
                reading
            })
            .collect();
        let air = match seed % 3 {
            0 => AirSpace::Known(dice.log_between(10.0, 1e5)),
            1 => AirSpace::Between(20.0, dice.log_between(20.0, 1e5)),
            _ => AirSpace::Draw {
                drawn_ml: dice.log_between(1.0, 5000.0),
                before_kpa: dice.between(50.0, 100.0),
                after_kpa: dice.between(10.0, 60.0),
            },
        };
        let mut hold = Hold::new(readings, air, dice.log_between(0.5, 500.0));
        hold.graduation_kpa = dice.chance(0.5).then(|| dice.log_between(0.01, 20.0));
        match read_hold(&hold) {
            Ok(result) => {
                answers += 1;
                let (low, high) = result.interval_ml_per_min;
                let leak = result.leak_ml_per_min;
                assert!(
                    low >= 0.0 && low <= leak && leak <= high && high.is_finite(),
                    "{seed}: {result:?}"
                );
                assert!(
                    result.smallest_leak_ml_per_min.is_finite()
                        && result.smallest_leak_ml_per_min > 0.0
                );
                assert!(
                    result
                        .points
                        .iter()
                        .all(|point| point.fitted_kpa.is_finite() && point.sound_kpa.is_finite())
                );
                let bands =
                    result.likelihood_of_bands(&[(0.0, 0.1), (0.1, 1.0), (1.0, f64::INFINITY)]);
                assert!(
                    bands.iter().all(|band| (0.0..=1.01).contains(band)),
                    "{seed}: {bands:?}"
                );
            }
            Err(error) => assert!(error.to_string().len() > 40, "{error}"),
        }
    }
    assert!(answers > 50, "{answers}");
}
