//! The balance sheet: what each finding did to what is suspected.
//!
//! In: a [`Case`] and a suspect. Out: a [`Sheet`]: its chance before any finding, after each
//! finding in the order of the log, without each finding, and the chance of each finding by itself.
//! From it follow the weights of evidence (I. J. Good 1950, 1985), what each finding adds when it
//! comes last (Suermondt 1992), and how well the findings fit together.
//!
//! Each figure is worked out exactly and by itself, on all cores, in a network of only what the
//! findings that go into it and the suspect hang on.

use crate::advise::belief::{AdviseError, Belief};
use crate::advise::case::Case;
use crate::advise::suspect::Suspect;
use crate::cores;
use crate::infer::{Engine, Finding, InferError, Options, Target};

/// What is believed with some of the findings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Snapshot {
    /// The chance of what is suspected; 0 for a place that can't leak.
    pub suspect: f64,
    /// Natural logarithm of the chance of these findings together.
    pub log_evidence: f64,
}

/// What each finding did.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Before any finding.
    pub start: Snapshot,
    /// With each finding alone.
    pub alone: Vec<Snapshot>,
    /// In the order of the log and left out one by one, unless that was too dear.
    pub whole: Option<Whole>,
}

/// The dear part of a balance sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Whole {
    /// After each finding, in the order of the log.
    pub after: Vec<Snapshot>,
    /// Without each finding, all others kept.
    pub without: Vec<Snapshot>,
}

impl Sheet {
    /// Works out the cheap part of a sheet.
    ///
    /// # Errors
    /// As [`Belief::of`].
    pub fn of(case: &Case<'_>, suspect: Suspect) -> Result<Self, AdviseError> {
        let alone = (0..case.found.len()).map(|only| vec![only]);
        let wanted: Vec<Vec<usize>> = std::iter::once(Vec::new()).chain(alone).collect();
        let mut done = snapshots(case, suspect, &wanted)?;
        Ok(Self {
            start: done.remove(0),
            alone: done,
            whole: None,
        })
    }

    /// Works out the dear part too; `now` is the belief with all findings. It costs about one
    /// belief with all findings and one with half of them for each finding.
    ///
    /// # Errors
    /// As [`Belief::of`].
    pub fn wholly(
        mut self,
        case: &Case<'_>,
        suspect: Suspect,
        now: Snapshot,
    ) -> Result<Self, AdviseError> {
        let count = case.found.len();
        // What is the same is worked out once: without the last finding it stands as before it.
        let mut wanted: Vec<Vec<usize>> = (2..count).map(|first| (0..first).collect()).collect();
        let others = |left: usize| (0..count).filter(move |&at| at != left).collect();
        let last = count.saturating_sub(1);
        wanted.extend((0..last).filter(|_| count > 2).map(others));
        let done = snapshots(case, suspect, &wanted)?;
        let (between, without) = done.split_at(count.saturating_sub(2));
        let mut after: Vec<Snapshot> = self.alone.first().copied().into_iter().collect();
        after.extend_from_slice(between);
        if count > 1 {
            after.push(now);
        }
        let without = match count {
            0 => Vec::new(),
            1 => vec![self.start],
            2 => vec![self.alone[1], self.alone[0]],
            _ => [without, &after[count - 2..count - 1]].concat(),
        };
        self.whole = Some(Whole { after, without });
        Ok(self)
    }
}

impl Snapshot {
    /// What of a belief is kept.
    pub fn of(belief: &Belief, suspect: Suspect) -> Self {
        Self {
            suspect: belief.chance_of(suspect),
            log_evidence: belief.log_evidence(),
        }
    }
}

/// The chances of suspects before any finding.
pub(super) fn before_any(case: &Case<'_>, suspects: &[Suspect]) -> Result<Vec<f64>, AdviseError> {
    let targets: Vec<Option<Target>> = (suspects.iter())
        .map(|suspect| suspect.target(&case.graph))
        .collect();
    let known: Vec<Target> = targets.iter().flatten().cloned().collect();
    let net = &case.graph.network;
    let engine = Engine::new(net, &[], &known, &[], &[], &Options::default());
    let engine = engine.map_err(AdviseError::Infer)?;
    let mut chances = engine.targets().iter().copied();
    let chance = |target: Option<Target>| target.and_then(|_| chances.next()).unwrap_or(0.0);
    Ok(targets.into_iter().map(chance).collect())
}

/// What is believed of a suspect with each choice of findings, on all cores.
fn snapshots(
    case: &Case<'_>,
    suspect: Suspect,
    choices: &[Vec<usize>],
) -> Result<Vec<Snapshot>, AdviseError> {
    let done = cores::on_all(choices, |of| snapshot(case, suspect, of));
    done.into_iter().collect()
}

/// What is believed of a suspect with some of the findings.
fn snapshot(
    case: &Case<'_>,
    suspect: Suspect,
    positions: &[usize],
) -> Result<Snapshot, AdviseError> {
    let of = |&at: &usize| case.found[at].findings.iter().cloned();
    let findings: Vec<Finding> = positions.iter().flat_map(of).collect();
    let targets: Vec<Target> = suspect.target(&case.graph).into_iter().collect();
    let (net, options) = (&case.graph.network, Options::default());
    let engine = Engine::new(net, &findings, &targets, &[], &[], &options);
    let engine = engine.map_err(|error| match error {
        InferError::TooDense { .. } => AdviseError::TooDense {
            findings: positions
                .iter()
                .map(|&at| case.found[at].words.clone())
                .collect(),
            entries: positions.iter().map(|&at| case.found[at].entry).collect(),
        },
        other => AdviseError::Infer(other),
    })?;
    Ok(Snapshot {
        suspect: engine.targets().first().copied().unwrap_or(0.0),
        log_evidence: engine.log_evidence(),
    })
}
