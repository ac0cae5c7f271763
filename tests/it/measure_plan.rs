//! Plan and balance against figures from outside. Kinds: P published or computed twice from
//! published properties, C common practice, M from memory.

use seepwise::measure::balance::{Account, MeasuredLeak, balance};
use seepwise::measure::hold::{Expansion, KPA_PER_PSI};
use seepwise::measure::plan::{LossWhen, PlanError, PlanRequest, ReportedLoss, Scaling, plan};

const PSI: f64 = KPA_PER_PSI;

fn half_litre(hours_per_day: f64) -> ReportedLoss {
    ReportedLoss {
        litres: 0.5,
        days: 14.0,
        when: LossWhen::Running { hours_per_day },
    }
}

fn car(loss: ReportedLoss) -> PlanRequest {
    PlanRequest::car(loss, 1000.0, 10.0, 12.0 * PSI, 0.5 * PSI)
}

fn close(found: f64, wanted: f64, tolerance: f64) {
    assert!(
        (found - wanted).abs() <= tolerance,
        "{found} is not {wanted} ± {tolerance}"
    );
}

/// Half a litre in 14 days, all in one or two hot hours a day (computed from the hot-over-cold
/// ratios 4.586 laminar and 1.022 orifice; P). Tolerance: the digits given.
#[test]
fn half_a_litre_in_a_fortnight_hot_and_cold() {
    let one = plan(&car(half_litre(1.0))).unwrap();
    close(one.hot_ml_per_min, 0.60, 0.006);
    close(one.cold_ml_per_min.0, 0.13, 0.005);
    close(one.cold_ml_per_min.1, 0.58, 0.005);
    let two = plan(&car(half_litre(2.0))).unwrap();
    close(two.hot_ml_per_min, 0.30, 0.005);
    close(two.cold_ml_per_min.0, 0.065, 0.0005);
    close(two.cold_ml_per_min.1, 0.29, 0.005);
}

/// The same, day and night: 0.025 mL/min; no quarter of an hour shows it; over ten hours 15 mL,
/// 0.3–0.4 psi with 1 L of air (P, computed; hoses of little stretch).
#[test]
fn day_and_night_needs_the_night() {
    let loss = ReportedLoss {
        when: LossWhen::DayAndNight,
        ..half_litre(1.0)
    };
    let request = PlanRequest {
        stretch_ml_per_kpa: (0.0, 1.0),
        ..car(loss)
    };
    let found = plan(&request).unwrap();
    close(found.cold_ml_per_min.0, 0.025, 0.0005);
    close(found.cold_ml_per_min.0 * 600.0, 15.0, 0.3);
    assert!(found.fall_in_15_min_kpa.1 < 0.05 * request.graduation_kpa);
    assert!(
        found.minutes.is_none_or(|minutes| minutes > 240.0),
        "{:?}",
        found.minutes
    );
}

/// The hot-hour leak puts out 2 mL in 15 minutes cold; 0.4 K of drift hides it in a car of 10 L,
/// 0.1 K in a truck of 40 L (P, computed with 5.1e-4 /K). A smaller air space does not change it.
#[test]
fn drift_is_the_floor() {
    let expansion = Expansion {
        per_k_at_20c: 5.1e-4,
        per_k2: 0.0,
    };
    let request = PlanRequest {
        expansion,
        ..car(half_litre(1.0))
    };
    let in_car = plan(&request).unwrap();
    close(in_car.cold_ml_per_min.0 * 15.0, 2.0, 0.06);
    close(in_car.drift_in_15_min_k, 0.4, 0.02);
    let truck = plan(&PlanRequest {
        coolant_l: 40.0,
        ..request
    })
    .unwrap();
    close(truck.drift_in_15_min_k, 0.1, 0.005);
    let less_air = plan(&PlanRequest {
        air_ml: 250.0,
        ..request
    })
    .unwrap();
    close(less_air.drift_in_15_min_k, in_car.drift_in_15_min_k, 1e-12);
}

/// A truck's tank with 8 L of air: a cold hold shows nothing, fill up first (C).
#[test]
fn a_large_tank_is_filled_up_first() {
    let found = plan(&PlanRequest {
        air_ml: 8000.0,
        coolant_l: 40.0,
        ..car(half_litre(1.0))
    })
    .unwrap();
    assert!(found.fill_up_first);
    assert!(
        found
            .steps
            .iter()
            .any(|step| step.contains("fill up first"))
    );
    assert!(!plan(&car(half_litre(1.0))).unwrap().fill_up_first);
}

/// Equal temperatures come before less air (C), and less air never goes below 200 mL (P, computed:
/// the hoses' stretch takes over).
#[test]
fn temperatures_before_air_space() {
    let found = plan(&car(half_litre(1.0))).unwrap();
    let temperature = found
        .steps
        .iter()
        .position(|step| step.contains("one temperature"))
        .unwrap();
    let air = found
        .steps
        .iter()
        .position(|step| step.contains("air are left"))
        .unwrap();
    assert!(temperature < air);
    let less = found.less_air.unwrap();
    assert!((200.0..1000.0).contains(&less.air_ml), "{less:?}");
    assert!(less.minutes < found.minutes.unwrap_or(f64::INFINITY));
}

/// Longer waits for smaller leaks, coarser gauges and larger air spaces (by definition).
#[test]
fn the_wait_grows_with_what_makes_it_harder() {
    let minutes = |request: &PlanRequest| plan(request).unwrap().minutes.unwrap_or(f64::INFINITY);
    let big = ReportedLoss {
        litres: 5.0,
        ..half_litre(1.0)
    };
    let base = minutes(&car(big));
    assert!(base > 3.0 && base < 120.0, "{base}");
    assert!(
        minutes(&PlanRequest {
            graduation_kpa: 2.0 * PSI,
            ..car(big)
        }) > base
    );
    assert!(
        minutes(&PlanRequest {
            air_ml: 3000.0,
            ..car(big)
        }) > base
    );
    assert!(minutes(&car(half_litre(1.0))) > base);
    let found = plan(&car(big)).unwrap();
    assert!(found.minutes_if_orifice.unwrap() <= found.minutes.unwrap());
}

/// Never above the limit; none at all for a system open to the air (C).
#[test]
fn pressures_above_the_limit_are_refused() {
    let above = PlanRequest {
        test_gauge_kpa: 12.0 * PSI,
        limit_gauge_kpa: 7.0 * PSI,
        ..car(half_litre(1.0))
    };
    let error = plan(&above).unwrap_err();
    assert!(matches!(error, PlanError::AboveLimit { .. }));
    assert!(error.to_string().contains("7.0 psi"), "{error}");
    assert!(
        plan(&PlanRequest {
            test_gauge_kpa: 7.0 * PSI,
            ..above
        })
        .is_ok()
    );
    assert_eq!(
        plan(&PlanRequest {
            limit_gauge_kpa: 0.0,
            ..above
        }),
        Err(PlanError::OpenSystem)
    );
}

#[test]
fn figures_that_make_no_sense_are_refused() {
    let good = car(half_litre(1.0));
    for bad in [
        PlanRequest {
            air_ml: f64::NAN,
            ..good
        },
        PlanRequest {
            coolant_l: -1.0,
            ..good
        },
        PlanRequest {
            graduation_kpa: 0.0,
            ..good
        },
        PlanRequest {
            test_gauge_kpa: f64::INFINITY,
            ..good
        },
        PlanRequest {
            loss: half_litre(0.0),
            ..good
        },
        PlanRequest {
            loss: ReportedLoss {
                days: 0.0,
                ..half_litre(1.0)
            },
            ..good
        },
        PlanRequest {
            loss: ReportedLoss {
                litres: 1e9,
                ..half_litre(1.0)
            },
            ..good
        },
        PlanRequest {
            stretch_ml_per_kpa: (3.0, 1.0),
            ..good
        },
    ] {
        let error = plan(&bad).unwrap_err().to_string();
        assert!(error.contains("give ") || error.contains("Swap"), "{error}");
    }
}

fn found_cold(least: f64, most: f64) -> MeasuredLeak {
    MeasuredLeak {
        least_ml_per_min: least,
        most_ml_per_min: most,
        gauge_kpa: 12.0 * PSI,
        cold: true,
    }
}

/// 0.13 mL/min cold and laminar is 0.60 mL/min hot, half a litre in 14 hot hours (P, computed).
#[test]
fn balance_three_ways() {
    let loss = half_litre(1.0);
    let of = |leaks: &[MeasuredLeak]| {
        balance(leaks, &loss, 12.0 * PSI, &Scaling::HALF_ETHYLENE).unwrap()
    };
    let all = of(&[found_cold(0.13, 0.13)]);
    assert_eq!(all.account, Account::For);
    close(all.found_ml_per_min.1, 0.60, 0.005);
    close(all.found_ml_per_min.0, 0.133, 0.001);
    close(all.reported_ml_per_day, 35.7, 0.05);
    let Account::Part {
        least_ml_per_day,
        most_ml_per_day,
    } = of(&[found_cold(0.03, 0.04)]).account
    else {
        panic!("a tenth of the leak can't account for all")
    };
    // 35.7 − 60·4.586·0.04 and 35.7 − 60·1.022·0.03.
    close(least_ml_per_day, 24.7, 0.05);
    close(most_ml_per_day, 33.9, 0.05);
    assert_eq!(of(&[found_cold(2.0, 3.0)]).account, Account::MoreThan);
    // Two halves make a whole; nothing found accounts for nothing.
    assert_eq!(
        of(&[found_cold(0.06, 0.07), found_cold(0.06, 0.07)]).account,
        Account::For
    );
    assert!(matches!(of(&[]).account, Account::Part { .. }));
}

/// A leak that was measured hot is not scaled up again.
#[test]
fn hot_measurements_stay_as_they_are() {
    let hot = MeasuredLeak {
        cold: false,
        ..found_cold(0.6, 0.6)
    };
    let found = balance(
        &[hot],
        &half_litre(1.0),
        12.0 * PSI,
        &Scaling::HALF_ETHYLENE,
    )
    .unwrap();
    close(found.found_ml_per_min.0, 0.6, 1e-9);
    close(found.found_ml_per_min.1, 0.6, 1e-9);
}

/// If the find explains the loss, a large rest is unlikely; if it explains a tenth, a rest is certain.
#[test]
fn likelihood_of_the_rest() {
    let bands = [(0.0, 0.03), (0.03, 0.3), (0.3, 3.0), (3.0, f64::INFINITY)];
    let of = |leak| {
        balance(
            &[leak],
            &half_litre(1.0),
            12.0 * PSI,
            &Scaling::HALF_ETHYLENE,
        )
        .unwrap()
        .likelihood_of_rest(&bands)
    };
    let explained = of(MeasuredLeak {
        cold: false,
        ..found_cold(0.55, 0.65)
    });
    assert!(
        explained[0] > 10.0 * explained[2] && explained[0] > 100.0 * explained[3],
        "{explained:?}"
    );
    let partly = of(MeasuredLeak {
        cold: false,
        ..found_cold(0.05, 0.07)
    });
    assert!(partly[2] > 10.0 * partly[0], "{partly:?}");
}

#[test]
fn a_balance_of_nonsense_is_refused() {
    let loss = half_litre(1.0);
    for leak in [
        found_cold(f64::NAN, 1.0),
        found_cold(2.0, 1.0),
        found_cold(-1.0, 1.0),
    ] {
        assert!(balance(&[leak], &loss, 80.0, &Scaling::HALF_ETHYLENE).is_err());
    }
    assert!(balance(&[found_cold(0.1, 0.2)], &loss, 0.0, &Scaling::HALF_ETHYLENE).is_err());
}
