//! Sums of strengths and litres: draining and filling, topping up, thinning.
//!
//! All percentages of one sum count the same thing ([`crate::measure::coolant::Basis`]). Volumes
//! are added as they are; the few per mille by which glycol and water shrink on mixing are less
//! than a workshop can measure.

use crate::measure::coolant::CoolantError;

/// Something that is poured in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Filling {
    /// De-ionised water.
    Water,
    /// Half concentrate, half water.
    Half,
    /// Undiluted concentrate, or pure glycol.
    Undiluted,
    /// Any other strength, in vol %.
    Percent(f64),
}

impl Filling {
    /// Its strength in vol %.
    pub fn percent(self) -> f64 {
        match self {
            Self::Water => 0.0,
            Self::Half => 50.0,
            Self::Undiluted => 100.0,
            Self::Percent(percent) => percent,
        }
    }
}

/// How much to drain, and then to fill with `filling`, to bring a system from one strength to
/// another, in mL.
///
/// # Errors
/// Values outside their range, or a filling with which the strength can't be reached.
pub fn replace_ml(
    system_ml: f64,
    have: f64,
    want: f64,
    filling: Filling,
) -> Result<f64, CoolantError> {
    let fill = filling.percent();
    system(system_ml)?;
    percents(&[have, want, fill])?;
    if (want - have).abs() < 1e-9 {
        return Ok(0.0);
    }
    let share = (want - have) / (fill - have);
    if !share.is_finite() || !(0.0..=1.0).contains(&share) {
        let (direction, better) = if want > have {
            ("stronger", "more than the strength that you want")
        } else {
            (
                "weaker",
                "less than the strength that you want, such as water",
            )
        };
        return Err(CoolantError::Mixing(format!(
            "filling with {fill:.0} % does not make {have:.0} % {direction} up to {want:.0} %: fill with {better}"
        )));
    }
    Ok(system_ml * share)
}

/// How many times to drain and fill where only `per_go_ml` runs out at the tap.
///
/// The engine is run between two goes, so that what is in mixes. `None` if the filling never
/// gets there.
///
/// # Errors
/// Values outside their range, or a filling with which the strength can't be reached.
pub fn goes_needed(
    system_ml: f64,
    per_go_ml: f64,
    have: f64,
    want: f64,
    filling: Filling,
) -> Result<Option<u32>, CoolantError> {
    const MOST: u32 = 20;
    part_of(per_go_ml, system_ml, "what runs out at one go")?;
    replace_ml(system_ml, have, want, filling)?;
    let mut now = have;
    for go in 0..=MOST {
        // Within half a per cent is as near as anybody measures.
        if (now - want).abs() <= 0.5 || (now > want) != (have > want) {
            return Ok(Some(go));
        }
        now += (filling.percent() - now) * per_go_ml / system_ml;
    }
    Ok(None)
}

/// Strength after losing `lost_ml` of a full system and topping it up, `times` over.
///
/// # Errors
/// Values outside their range.
pub fn after_topping_up(
    system_ml: f64,
    have: f64,
    lost_ml: f64,
    filling: Filling,
    times: u32,
) -> Result<f64, CoolantError> {
    let fill = filling.percent();
    system(system_ml)?;
    percents(&[have, fill])?;
    part_of(lost_ml, system_ml, "what was lost")?;
    let kept = 1.0 - lost_ml / system_ml;
    Ok(fill + (have - fill) * kept.powi(times.min(10_000).cast_signed()))
}

/// The strength to top up with, in vol %, to come as near as possible to `want` when `missing_ml`
/// are missing from the system and the rest has `have`.
///
/// # Errors
/// Values outside their range.
pub fn topping_strength(
    system_ml: f64,
    missing_ml: f64,
    have: f64,
    want: f64,
) -> Result<f64, CoolantError> {
    system(system_ml)?;
    percents(&[have, want])?;
    part_of(missing_ml, system_ml, "what is missing")?;
    if missing_ml == 0.0 {
        return Err(CoolantError::Mixing(
            "nothing is missing, so topping up changes nothing: drain some first".to_owned(),
        ));
    }
    let wanted = (want * system_ml - have * (system_ml - missing_ml)) / missing_ml;
    Ok(wanted.clamp(0.0, 100.0))
}

/// How much *liquid* a system has lost, in mL, when topping up with water alone has thinned it
/// from `before` to `now`: lowest (one big loss) and highest (many small ones).
///
/// Vapour takes no glycol with it: strength that holds although water was added speaks for
/// boiling out, not for a leak.
///
/// # Errors
/// Values outside their range, or a strength that has not fallen.
pub fn liquid_lost_ml(system_ml: f64, before: f64, now: f64) -> Result<(f64, f64), CoolantError> {
    system(system_ml)?;
    percents(&[before, now])?;
    if now <= 0.0 || now > before {
        return Err(CoolantError::Mixing(format!(
            "the strength went from {before:.0} % to {now:.0} %: this sum needs a strength that has fallen and is still above 0 %"
        )));
    }
    Ok((
        system_ml * (1.0 - now / before),
        system_ml * (before / now).ln(),
    ))
}

fn system(ml: f64) -> Result<(), CoolantError> {
    if ml.is_finite() && ml > 0.0 {
        return Ok(());
    }
    Err(CoolantError::Mixing(
        "the system's volume must be more than nothing".to_owned(),
    ))
}

fn part_of(ml: f64, system_ml: f64, what: &str) -> Result<(), CoolantError> {
    if (0.0..=system_ml).contains(&ml) {
        return Ok(());
    }
    Err(CoolantError::Mixing(format!(
        "{what} must lie between nothing and the whole system"
    )))
}

fn percents(all: &[f64]) -> Result<(), CoolantError> {
    match all.iter().find(|percent| !(0.0..=100.0).contains(*percent)) {
        None => Ok(()),
        Some(percent) => Err(CoolantError::Mixing(format!(
            "{percent} % is no strength: it lies between 0 and 100 %"
        ))),
    }
}
