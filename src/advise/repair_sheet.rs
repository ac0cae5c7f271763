//! The repair sheet: what is to be repaired, with what, and what must then be shown.
//!
//! In: a [`Case`]. Out: a [`RepairSheet`]: for each source that is named or confirmed and not yet
//! repaired, the work, parts and texts of the rules that fit it; then filling, cautions, retest.

use std::collections::BTreeSet;

use crate::advise::account::confirmed;
use crate::advise::another::another_source;
use crate::advise::belief::{AdviseError, Belief, chance};
use crate::advise::case::Case;
use crate::advise::rank::{Feeder, RankedCause, Ranking};
use crate::advise::retest::{is_due, tasks_of};
use crate::advise::stop::Verdict;
use crate::chance::Chance;
use crate::graph::Place;
use crate::ids::{CautionId, PartId};
use crate::measure::coolant::{CoolantError, Filling, replace_ml};
use crate::rules::base::Note;

/// What feeds a fault is on the sheet from this chance on.
const FED_FROM: f64 = 0.35;
/// Another fault at the place is on the sheet from this chance on.
const OTHER_FROM: f64 = 0.1;

/// One source to repair.
#[derive(Debug, Clone, PartialEq)]
pub struct Work {
    /// Its position in the graph's causes.
    pub cause: usize,
    /// The fault and its part.
    pub place: Place,
    /// The chance that the place leaks.
    pub leaks: Chance,
    /// The chance that this fault makes it leak.
    pub fault: Chance,
    /// Other faults that may be behind it there, the likeliest first.
    pub others: Vec<(Place, Chance)>,
    /// Positions in [`Case::found`] of what was found at the place.
    pub found: Vec<usize>,
    /// Parts to have at hand, with grade and size.
    pub parts: Vec<String>,
    /// What is renewed with them.
    pub renew_with: Vec<String>,
    /// What feeds the fault and brings it back unless it is cured.
    pub fed_by: Vec<(Feeder, Chance)>,
    /// Whether the coolant can stay in.
    pub coolant_stays: bool,
}

/// Coolant so many per cent thinner than wanted is left as it is.
const CLOSE_ENOUGH: f64 = 3.0;

/// Concentrate and water for the whole system, litres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoolantSum {
    /// Of both together.
    pub litres: f64,
    /// The strength wanted, per cent by volume.
    pub percent: f64,
    /// Of concentrate.
    pub concentrate: f64,
    /// Of water.
    pub water: f64,
    /// What is in, where that was measured.
    pub kept: Option<InIt>,
}

/// How coolant of a measured strength is brought to the one wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InIt {
    /// The entry in which it was measured.
    pub entry: usize,
    /// Its strength, per cent by volume.
    pub percent: f64,
    /// So many litres of it give way to as much concentrate; 0 where it is strong enough.
    pub exchange: f64,
}

/// A repair sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct RepairSheet {
    /// The sources, the likeliest first; empty where none is named.
    pub works: Vec<Work>,
    /// The chance that a source elsewhere remains.
    pub another: Chance,
    /// What to mix; none where the coolant stays in, or the circuit is one of its own.
    pub coolant: Option<CoolantSum>,
    /// How to fill and bleed, in order.
    pub fill: Vec<String>,
    /// Cautions, in order.
    pub cautions: Vec<CautionId>,
    /// Positions in the rules' retest list of what this vehicle can prove.
    pub retest: Vec<usize>,
}

/// A sheet that can't be worked out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SheetError {
    /// As [`Belief::of`].
    #[error(transparent)]
    Advise(#[from] AdviseError),
    /// A strength that can't be mixed.
    #[error(transparent)]
    Coolant(#[from] CoolantError),
}

/// Causes that are named or confirmed and not repaired, the likeliest first.
pub(super) fn to_repair(
    case: &Case<'_>,
    belief: &Belief,
    ranking: &Ranking,
) -> Result<Vec<usize>, AdviseError> {
    let repaired: BTreeSet<Place> = case
        .mended()
        .flat_map(|repair| &repair.causes)
        .map(|&at| case.graph.causes[at].place)
        .collect();
    let part = |at: &usize| case.graph.causes[*at].place.part;
    let mut causes: Vec<usize> = confirmed(case)
        .filter(|&at| !repaired.contains(&case.graph.causes[at].place))
        .filter(|&at| belief.causes[at] >= case.rules.policy.named_at)
        .collect();
    causes.sort_unstable();
    causes.dedup();
    let named = Verdict::found(case, ranking, belief)?;
    for &at in named.as_ref().map(Verdict::named).unwrap_or_default() {
        // What is confirmed at a place stands for the place.
        if causes.iter().all(|known| part(known) != part(&at)) {
            causes.push(at);
        }
    }
    Ok(causes)
}

impl RepairSheet {
    /// The sheet of a case.
    ///
    /// # Errors
    /// As [`Belief::of`]; a strength of the rules that can't be mixed.
    pub fn of(case: &Case<'_>) -> Result<Self, SheetError> {
        let belief = Belief::of(case, &[])?;
        let ranking = Ranking::of(case, &belief)?;
        let causes = to_repair(case, &belief, &ranking)?;
        let mut works = Vec::new();
        for &at in &causes {
            works.extend(work(case, &belief, &ranking, at)?);
        }
        let places: BTreeSet<PartId> = works.iter().map(|work| work.place.part).collect();
        let rules = &case.rules.sheet;
        let fits_any = |of: &crate::rules::base::Selector| {
            let mut works = works.iter();
            works.any(|work| of.fits(case.layout, work.place.part, work.place.fault))
        };
        let own: Vec<(String, &Work)> = works
            .iter()
            .flat_map(|work| {
                let texts = notes(case, &rules.own_circuit, work.place);
                texts.into_iter().map(move |text| (text, work))
            })
            .collect();
        let of_engine = |work: &&Work| own.iter().all(|(_, other)| other.place != work.place);
        let fills = works
            .iter()
            .filter(of_engine)
            .any(|work| !work.coolant_stays);
        let coolant = match rules.fill_percent.filter(|_| fills) {
            Some(percent) => Some(sum(case.layout.coolant_litres, percent, case.strength)?),
            None => None,
        };
        let mut fill: Vec<String> = own.iter().map(|(text, _)| text.clone()).collect();
        if let Some(sum) = &coolant {
            fill.extend(fill_steps(case, sum));
        }
        let cautions = rules.cautions.iter().filter(|(of, _)| fits_any(of));
        let cautions = cautions.map(|&(_, caution)| caution).collect();
        let retest = (0..case.rules.retest.len())
            .filter(|&proof| is_due(case, proof, &places))
            .filter(|&proof| !tasks_of(case, proof, &places).is_empty())
            .collect();
        Ok(Self {
            another: another_source(case, &belief, &causes)?,
            works,
            coolant,
            fill,
            cautions,
            retest,
        })
    }
}

fn work(
    case: &Case<'_>,
    belief: &Belief,
    ranking: &Ranking,
    at: usize,
) -> Result<Option<Work>, AdviseError> {
    let Some(cause) = ranking.causes.iter().find(|cause| cause.cause == at) else {
        return Ok(None);
    };
    let place = cause.place;
    // What feeds the fault is told as standing behind it.
    let feeds = |other: &RankedCause| {
        let mut fed_by = cause.fed_by.iter();
        fed_by.any(|(feeder, held)| *feeder == Feeder::Fault(other.place) && held.get() >= FED_FROM)
    };
    let instead = |other: &&RankedCause| {
        other.place.part == place.part
            && other.cause != at
            && other.probability.get() >= OTHER_FROM
            && !feeds(other)
    };
    let found = case.found.iter().enumerate().filter(|(_, found)| {
        let task = found.task.map(|task| &case.graph.tasks[task]);
        !found.normal && task.is_some_and(|task| task.part == Some(place.part))
    });
    let stays = case.rules.sheet.coolant_stays.as_ref();
    Ok(Some(Work {
        cause: at,
        place,
        leaks: chance(belief.leaks[place.part].unwrap_or(cause.probability.get()))?,
        fault: cause.probability,
        others: ranking
            .causes
            .iter()
            .filter(instead)
            .take(2)
            .map(|other| (other.place, other.probability))
            .collect(),
        found: found.map(|(position, _)| position).collect(),
        parts: notes(case, &case.rules.sheet.parts, place),
        renew_with: notes(case, &case.rules.sheet.renew_with, place),
        fed_by: (cause.fed_by.iter())
            .filter(|(_, held)| held.get() >= FED_FROM)
            .copied()
            .collect(),
        coolant_stays: stays.is_some_and(|of| of.fits(case.layout, place.part, place.fault)),
    }))
}

/// The texts that fit a repair, filled in.
fn notes(case: &Case<'_>, notes: &[Note], place: Place) -> Vec<String> {
    notes
        .iter()
        .filter(|note| note.of.fits(case.layout, place.part, place.fault))
        .map(|note| filled(case, place.part, &note.says))
        .collect()
}

fn sum(
    litres: f64,
    percent: f64,
    measured: Option<(usize, f64)>,
) -> Result<CoolantSum, CoolantError> {
    let kept = |(entry, of): (usize, f64)| -> Result<InIt, CoolantError> {
        let thin = percent - of > CLOSE_ENOUGH;
        let exchange = if thin {
            replace_ml(1000.0 * litres, of, percent, Filling::Undiluted)? / 1000.0
        } else {
            0.0
        };
        Ok(InIt {
            entry,
            percent: of,
            exchange,
        })
    };
    let kept = measured.map(kept).transpose()?;
    // As if the system were full of water: so much of it gives way to concentrate.
    let concentrate = replace_ml(1000.0 * litres, 0.0, percent, Filling::Undiluted)? / 1000.0;
    Ok(CoolantSum {
        litres,
        percent,
        concentrate,
        water: litres - concentrate,
        kept,
    })
}

fn fill_steps(case: &Case<'_>, sum: &CoolantSum) -> Vec<String> {
    let figures = |text: &str| {
        text.replace("{litres}", &litres_words(sum.litres))
            .replace("{percent}", &format!("{:.0} %", sum.percent))
            .replace("{concentrate}", &litres_words(sum.concentrate))
            .replace("{water}", &litres_words(sum.water))
            .replace("{limit}", &case.limit_words())
    };
    let mut steps = Vec::new();
    if let Some(kept) = &sum.kept {
        steps.push(kept_words(kept, sum));
    }
    for step in &case.rules.sheet.fill {
        if step.each.is_empty() {
            if case.layout.holds(&step.only, None) {
                steps.push(figures(&step.says));
            }
            continue;
        }
        for (part, it) in case.layout.parts.enumerated() {
            if step.each.contains(&it.kind) && case.layout.holds(&step.only, Some(part)) {
                steps.push(figures(&filled(case, part, &step.says)));
            }
        }
    }
    steps
}

/// What to do with coolant whose strength was measured.
fn kept_words(kept: &InIt, sum: &CoolantSum) -> String {
    let InIt {
        entry,
        percent,
        exchange,
    } = kept;
    let measured = format!("What is in was measured in entry {entry}: {percent:.0} %.");
    if *exchange > 0.0 {
        format!(
            "{measured} If it is fit to be kept: let {0} of it go, what the repair drains included, fill in {0} of concentrate, and the whole comes to {1:.0} %. Otherwise:",
            litres_words(*exchange),
            sum.percent
        )
    } else {
        format!("{measured} It is strong enough: put back what you drained. Otherwise:")
    }
}

/// Litres as people measure them: to the half litre from ten litres on, else to the decilitre.
fn litres_words(litres: f64) -> String {
    let step = if litres >= 10.0 { 2.0 } else { 10.0 };
    format!("{} L", (litres * step).round() / step)
}

/// A text with what stands between its braces filled in from the layout.
fn filled(case: &Case<'_>, part: PartId, text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('{') {
        out.push_str(before);
        let Some((name, tail)) = after.split_once('}') else {
            out.push('{');
            rest = after;
            continue;
        };
        match value(case, part, name) {
            Some(value) => out.push_str(&value),
            // Filled in later.
            None => out.extend(["{", name, "}"]),
        }
        rest = tail;
    }
    out.push_str(rest);
    out
}

fn value(case: &Case<'_>, part: PartId, name: &str) -> Option<String> {
    use crate::ids::Id;
    let it = &case.layout.parts[part];
    if let Some((role, own)) = name.split_once('.') {
        let joined = it.joins.iter().find(|(known, _)| known == role);
        // A part that the layout does not join: what is known of it is said at the part itself.
        return joined
            .map_or_else(
                || unknown_size(case, own),
                |&(_, other)| value(case, other, own),
            )
            .or_else(|| value(case, part, own));
    }
    match name {
        "place" => return Some(it.named.name.clone()),
        "limit" => return Some(case.limit_words()),
        _ => {}
    }
    let sizes = &case.rules.sizes;
    if let Some(at) = sizes.iter().position(|size| size.named.id == name) {
        let stated = it.sizes.iter().find(|(size, _)| *size == at);
        return stated.map_or_else(
            || unknown_size(case, name),
            |(_, value)| {
                Some(format!(
                    "{} {value} {}",
                    sizes[at].named.name, sizes[at].unit
                ))
            },
        );
    }
    let mut attributes = case.rules.attributes.enumerated();
    let (id, attribute) = attributes.find(|(_, attribute)| attribute.named.id == name)?;
    let value = it.attributes[id.index()].or(case.layout.vehicle[id.index()])?;
    Some(attribute.values[value].replace('_', " "))
}

fn unknown_size(case: &Case<'_>, name: &str) -> Option<String> {
    let mut sizes = case.rules.sizes.iter();
    let size = sizes.find(|size| size.named.id == name)?;
    Some(size.unknown.clone())
}
