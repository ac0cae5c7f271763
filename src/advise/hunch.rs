//! How a hunch stands against its rivals.
//!
//! In: a [`Case`] and what somebody suspects. Out: a [`Hunch`]: its chance, its strongest rivals,
//! what each finding did to it, what it would leave unexplained if it were the only source, what it
//! explains that its rivals don't, what would settle it, and whether to act on it now.

use crate::advise::belief::{AdviseError, Belief, chance};
use crate::advise::case::Case;
use crate::advise::conflict::Conflict;
use crate::advise::decision::{Decision, Stand};
use crate::advise::explained::{EXPLAINED_FROM, times_likelier};
use crate::advise::influence::Influence;
use crate::advise::settle::Settlers;
use crate::advise::sheet::{Sheet, Snapshot, before_any};
use crate::advise::suspect::Suspect;
use crate::chance::{Chance, weight_decibans};
use crate::cores;

/// Rivals that are told.
const RIVALS: usize = 3;
/// A rival listed apart (the tester) is told from this chance on.
const APART_FROM: f64 = 0.1;
/// A tree of at most this many entries, times findings, gets the dear part of the sheet at once.
const CHEAP: usize = 4_000_000;

/// How a hunch stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Hunch {
    /// What is suspected.
    pub suspect: Suspect,
    /// Its chance before any finding.
    pub start: Chance,
    /// Its chance now.
    pub now: Chance,
    /// The strongest rivals, the likeliest first.
    pub rivals: Vec<Rival>,
    /// What each finding did, in the order of the log.
    pub weights: Vec<Weight>,
    /// Findings that ask for a cause, and what explains them.
    pub explained: Vec<Explained>,
    /// How the findings fit together.
    pub conflict: Conflict,
    /// Whether to act on it.
    pub decision: Decision,
    /// What would settle it.
    pub settlers: Settlers,
}

/// A rival.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rival {
    /// Another place, or another fault at the same place.
    pub suspect: Suspect,
    /// For a place its likeliest fault there, by its position in the graph's causes.
    pub likeliest: Option<usize>,
    /// Its chance before any finding.
    pub start: Chance,
    /// Its chance now.
    pub now: Chance,
}

/// What one finding did to a hunch.
#[derive(Debug, Clone, PartialEq)]
pub struct Weight {
    /// Its position in [`Case::found`].
    pub found: usize,
    /// Its weight when taken by itself, decibans.
    pub alone: f64,
    /// In the order of the log, unless that was too dear: the chance after it and its weight there.
    pub in_order: Option<(Chance, f64)>,
    /// The chance without it, all others kept, and the weight that it adds when it comes last.
    pub last: Option<(Chance, f64)>,
}

/// A finding that asks for a cause.
#[derive(Debug, Clone, PartialEq)]
pub struct Explained {
    /// Its position in [`Case::found`].
    pub found: usize,
    /// How many times likelier it is if the hunch is the only source than if nothing leaked.
    pub by_hunch: f64,
    /// The same for each rival.
    pub by_rivals: Vec<f64>,
}

impl Explained {
    /// Whether the hunch alone explains it.
    pub fn explained(&self) -> bool {
        self.by_hunch >= EXPLAINED_FROM
    }

    /// Whether the hunch explains it and none of its rivals does.
    pub fn only_by_hunch(&self) -> bool {
        self.explained()
            && !self.by_rivals.is_empty()
            && self.by_rivals.iter().all(|&by| by < EXPLAINED_FROM)
    }
}

impl Hunch {
    /// Weighs a hunch. `full`: also what is dear, however long it takes.
    ///
    /// # Errors
    /// As [`Belief::of`].
    pub fn of(case: &Case<'_>, suspect: Suspect, full: bool) -> Result<Self, AdviseError> {
        let belief = || Belief::following(case, suspect.target(&case.graph));
        let (belief, sheet) = cores::both(belief, || Sheet::of(case, suspect));
        let (belief, sheet) = (belief?, sheet?);
        let now = Snapshot::of(&belief, suspect);
        let rivals = rivals(case, suspect, &belief)?;
        let strongest = rivals.first().map_or(0.0, |rival| rival.now.get());
        let mut decision = Decision::of(case, suspect, now.suspect, strongest)?;
        let influence = Influence::of(&case.graph);
        let whole = full || belief.sizes().total * case.found.len() <= CHEAP;
        let (causes, pairs) = (belief.causes.clone(), pairs(&rivals));
        let settlers = || Settlers::of(case, suspect, &pairs, &decision, &influence, belief);
        let weighed = || {
            let explained = explained(case, suspect, &rivals, &influence)?;
            let sheet = if whole {
                sheet.wholly(case, suspect, now)?
            } else {
                sheet
            };
            let conflict = Conflict::of(case, (&causes, now.log_evidence), &sheet)?;
            Ok::<_, AdviseError>((explained, sheet, conflict))
        };
        let (settlers, weighed) = cores::both(settlers, weighed);
        let (settlers, (explained, sheet, conflict)) = (settlers?, weighed?);
        if let (Stand::Act, Some(again), Some(whole)) =
            (decision.stand, &conflict.recheck, &sheet.whole)
            && whole.without[again.found].suspect < decision.act_from.get()
        {
            decision.stand = Stand::CheckAgain(again.found);
        }
        let weights = weights(now.suspect, &sheet)?;
        Ok(Self {
            suspect,
            start: chance(sheet.start.suspect)?,
            now: chance(now.suspect)?,
            rivals,
            weights,
            explained,
            conflict,
            decision,
            settlers,
        })
    }
}

/// The likeliest other places, and other faults at the same place.
fn rivals(case: &Case<'_>, suspect: Suspect, belief: &Belief) -> Result<Vec<Rival>, AdviseError> {
    let graph = &case.graph;
    let here = suspect.part(graph);
    let apart = |part| case.rules.kinds[case.layout.parts[part].kind].apart;
    let places = belief.leaks.enumerated().filter_map(|(part, leak)| {
        let p = (*leak)?;
        (part != here && (!apart(part) || p >= APART_FROM)).then_some(Suspect::Place(part))
    });
    let siblings = (0..graph.causes.len())
        .filter(|&cause| graph.causes[cause].place.part == here && !suspect.includes(graph, cause));
    let mut others: Vec<Suspect> = siblings.map(Suspect::Cause).chain(places).collect();
    let now = |of: Suspect| belief.chance_of(of);
    others.sort_by(|&a, &b| now(b).total_cmp(&now(a)).then(a.cmp(&b)));
    others.truncate(RIVALS);
    let starts = before_any(case, &others)?;
    let rival = |(&of, &start): (&Suspect, &f64)| {
        let there = (0..graph.causes.len()).filter(|&cause| of.includes(graph, cause));
        let best = there.max_by(|&a, &b| {
            belief.causes[a]
                .total_cmp(&belief.causes[b])
                .then(b.cmp(&a))
        });
        Ok(Rival {
            suspect: of,
            likeliest: best.filter(|_| matches!(of, Suspect::Place(_))),
            start: chance(start)?,
            now: chance(now(of))?,
        })
    };
    others.iter().zip(&starts).map(rival).collect()
}

fn pairs(rivals: &[Rival]) -> Vec<(Suspect, f64)> {
    let pair = |rival: &Rival| (rival.suspect, rival.now.get());
    rivals.iter().map(pair).collect()
}

fn weights(now: f64, sheet: &Sheet) -> Result<Vec<Weight>, AdviseError> {
    let between = |before: f64, after: f64| -> Result<f64, AdviseError> {
        Ok(weight_decibans(chance(before)?, chance(after)?))
    };
    let start = sheet.start.suspect;
    let mut before = start;
    let mut weights = Vec::new();
    for (found, alone) in sheet.alone.iter().enumerate() {
        let mut weight = Weight {
            found,
            alone: between(start, alone.suspect)?,
            in_order: None,
            last: None,
        };
        if let Some(whole) = &sheet.whole {
            let after = whole.after[found].suspect;
            let without = whole.without[found].suspect;
            weight.in_order = Some((chance(after)?, between(before, after)?));
            weight.last = Some((chance(without)?, between(without, now)?));
            before = after;
        }
        weights.push(weight);
    }
    Ok(weights)
}

/// What the hunch and its rivals explain, each as the only source.
fn explained(
    case: &Case<'_>,
    suspect: Suspect,
    rivals: &[Rival],
    influence: &Influence,
) -> Result<Vec<Explained>, AdviseError> {
    let mut sources = vec![vec![suspect]];
    sources.extend(rivals.iter().map(|rival| vec![rival.suspect]));
    let times = times_likelier(case, &sources, influence)?;
    let each = times.into_iter().map(|(found, times)| Explained {
        found,
        by_hunch: times[0],
        by_rivals: times[1..].to_vec(),
    });
    Ok(each.collect())
}
