//! `hold --plan`: a reported loss → how long to hold, and what it takes.

use serde_json::json;

use crate::cli::Desk;
use crate::cli::args::Args;
use crate::cli::args_measure::HoldArgs;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::job::expansion;
use crate::measure::hold::{AirSpace, Hold, KPA_PER_PSI};
use crate::measure::plan::{PlanRequest, Scaling, plan};
use crate::measure::units::Preferences;

/// A hair of slack for units converted back and forth.
const SLACK: f64 = 1.001;

/// The limit and where it comes from.
struct Limit {
    kpa: f64,
    from: String,
    /// Whether it is the vehicle's own, and not a guess for a vehicle that nobody named.
    known: bool,
}

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &HoldArgs) -> Result<bool, Failure> {
    let loss = of
        .reported()
        .ok_or_else(|| Failure::usage("--plan needs the reported loss: --loss and --days"))?;
    let step = of
        .step
        .ok_or_else(|| Failure::usage("--plan needs the gauge's step: --step \"0.5 psi\", say"))?;
    // With an air space between two, the larger one needs the longer hold.
    let Some(AirSpace::Known(air_ml) | AirSpace::Between(_, air_ml)) = of.air_ml else {
        return Err(Failure::usage(
            "--plan needs the air over the coolant: --air-ml",
        ));
    };
    let limit = limit(desk, args, of)?;
    let likes = of.units.unwrap_or_default();
    let shown = |kpa: f64| both(likes, kpa);
    let test_kpa = of.test.unwrap_or(limit.kpa);
    let hot_kpa = of.hot.unwrap_or(test_kpa);
    if limit.known && of.hot.is_some() && hot_kpa > limit.kpa * SLACK {
        return Err(Failure::usage(format!(
            "--hot {} is above the limit of {} ({}); no sound system runs there: check the cap and the gauge, and give the pressure that the cap holds",
            shown(hot_kpa),
            shown(limit.kpa),
            limit.from
        )));
    }
    let request = PlanRequest {
        hot_gauge_kpa: hot_kpa,
        limit_gauge_kpa: limit.kpa,
        expansion: expansion(of.glycol.into(), of.percent)?,
        stretch_ml_per_kpa: of.hose_ml_per_kpa.unwrap_or(Hold::CAR_STRETCH_ML_PER_KPA),
        scaling: Scaling::HALF_ETHYLENE,
        ..PlanRequest::car(loss, air_ml, of.coolant_litres, test_kpa, step)
    };
    let plan = plan(&request)?;
    if args.json {
        desk.json(&json!({
            "limit_kpa": limit.kpa,
            "test_kpa": test_kpa,
            "hot_ml_per_min": plan.hot_ml_per_min,
            "cold_ml_per_min": [plan.cold_ml_per_min.0, plan.cold_ml_per_min.1],
            "fall_in_15_min_kpa": [plan.fall_in_15_min_kpa.0, plan.fall_in_15_min_kpa.1],
            "minutes": plan.minutes,
            "drift_in_15_min_k": plan.drift_in_15_min_k,
            "less_air_ml": plan.less_air.map(|less| less.air_ml),
            "less_air_minutes": plan.less_air.map(|less| less.minutes),
            "notes": plan.steps,
        }))?;
        return Ok(true);
    }
    let mut page = desk.page();
    page.heading(&match plan.minutes {
        Some(minutes) => format!(
            "Hold for {:.0} minutes at {}",
            minutes.ceil(),
            shown(test_kpa)
        ),
        None => format!("A hold at {} does not decide", shown(test_kpa)),
    });
    for step in &plan.steps {
        page.item("·", step);
    }
    page.caution(&format!(
        "Never above {}: {}.",
        shown(limit.kpa),
        limit.from
    ));
    desk.put(page.text())?;
    Ok(true)
}

/// Both units of the trade: "13 psi (90 kPa)".
fn both(likes: Preferences, kpa: f64) -> String {
    let psi = format!("{:.1}", kpa / KPA_PER_PSI);
    let psi = psi.trim_end_matches('0').trim_end_matches('.');
    format!("{psi} psi ({})", likes.pressure(kpa, 1.0))
}

/// The lowest of what the plate and the layout state, else the rules' safe limit.
fn limit(desk: &Desk<'_>, args: &Args, of: &HoldArgs) -> Result<Limit, Failure> {
    let given = of.limit.map(|kpa| Limit {
        kpa,
        from: "as given".to_owned(),
        known: true,
    });
    if of.layout.is_none()
        && let Some(given) = given
    {
        return Ok(given);
    }
    let world = World::load(args, desk.surroundings)?;
    let rules = world.rules()?;
    let none =
        || Failure::usage("the rules state no safe limit: give the one on the plate with --limit");
    let of_rules = if let Some(id) = &of.layout {
        let layout = world.layout(id)?;
        let stated = layout.limits_psi.iter().min_by(|a, b| a.1.total_cmp(&b.1));
        let (psi, from) = if let Some((what, psi)) = stated {
            (*psi, what.clone())
        } else {
            let safe = rules.safe_limit_psi.as_ref().ok_or_else(none)?;
            let from = format!("no rating is known for {}", layout.named.name);
            (*safe.pick(|case| layout.holds(case, None)), from)
        };
        Limit {
            kpa: psi * KPA_PER_PSI,
            from,
            known: true,
        }
    } else {
        let safe = rules.safe_limit_psi.as_ref().ok_or_else(none)?;
        let cases = safe.cases.iter().map(|(_, psi)| *psi);
        Limit {
            kpa: cases.fold(safe.otherwise, f64::min) * KPA_PER_PSI,
            from: "the vehicle is not known; name it with --layout, or its limit with --limit"
                .to_owned(),
            known: false,
        }
    };
    Ok(match given {
        Some(given) if given.kpa < of_rules.kpa => given,
        _ => of_rules,
    })
}
