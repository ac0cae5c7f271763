//! Worlds in which it is settled what causes a loss and what does not.
//!
//! In: a network, the events that can cause, and which of them do. Out: how likely that world is
//! together with the findings, exactly, and how likely each finding is in it. With everything else
//! known to be shut, the network is thin ([`narrowed`]), so a world costs little.

use crate::advise::suspect::event;
use crate::infer::{
    Answers, Engine, Finding, InferError, Network, Options, Question, Shape, Target, narrowed,
};

/// The settled part of a world.
pub(super) struct World {
    net: Network,
    settled: Vec<Finding>,
}

impl World {
    /// The world in which exactly the targets that `causes` marks come about. `None` where the
    /// findings rule that out by themselves.
    pub fn exactly(
        net: &Network,
        targets: &[Target],
        causes: impl Fn(usize) -> bool,
        findings: &[Finding],
    ) -> Option<Self> {
        Self::with(net, targets, |at| Some(causes(at)), &[], findings)
    }

    /// The world in which the targets that `open` leaves alone may or may not come about, no other
    /// does, and `also` holds. `None` as above.
    pub fn quiet_but(
        net: &Network,
        targets: &[Target],
        open: impl Fn(usize) -> bool,
        also: &[Finding],
        findings: &[Finding],
    ) -> Option<Self> {
        let settled = |at| if open(at) { None } else { Some(false) };
        Self::with(net, targets, settled, also, findings)
    }

    fn with(
        net: &Network,
        targets: &[Target],
        so: impl Fn(usize) -> Option<bool>,
        also: &[Finding],
        findings: &[Finding],
    ) -> Option<Self> {
        let mut settled = also.to_vec();
        let mut states: Vec<Vec<bool>> = Vec::with_capacity(targets.len());
        for (at, target) in targets.iter().enumerate() {
            let Some(so) = so(at) else { continue };
            let mut can: Vec<bool> = target.states.iter().map(|&of| of == so).collect();
            for finding in findings.iter().filter(|finding| finding.var == target.var) {
                for (can, likelihood) in can.iter_mut().zip(&finding.likelihood) {
                    *can &= *likelihood > 0.0;
                }
            }
            if !can.contains(&true) {
                return None;
            }
            settled.push(event(target, so));
            states.push(can);
        }
        let vars = settled[also.len()..].iter().map(|finding| finding.var);
        let known: Vec<_> = vars.zip(states.iter().map(Vec::as_slice)).collect();
        let net = narrowed(net, &known).ok()?;
        Some(Self { net, settled })
    }

    /// Natural logarithm of the chance of this world and the findings together; minus infinity if
    /// they can't be.
    ///
    /// # Errors
    /// As [`Engine::new`].
    pub fn log_with(&self, findings: &[Finding]) -> Result<f64, InferError> {
        let mut all = self.settled.clone();
        all.extend_from_slice(findings);
        match Engine::new(&self.net, &all, &[], &[], &[], &Options::default()) {
            Ok(engine) => Ok(engine.log_evidence()),
            Err(InferError::Impossible { .. }) => Ok(f64::NEG_INFINITY),
            Err(error) => Err(error),
        }
    }

    /// The chance of each group of findings in this world, each by itself. `None` for all if the
    /// world itself can't be.
    ///
    /// # Errors
    /// As [`Engine::new`].
    pub fn chances(&self, groups: &[&[Finding]]) -> Result<Option<Vec<f64>>, InferError> {
        let questions: Vec<Question> = groups.iter().map(|group| asked(group)).collect();
        let options = Options::default();
        let mut engine = match Engine::new(&self.net, &self.settled, &[], &[], &questions, &options)
        {
            Ok(engine) => engine,
            Err(InferError::Impossible { .. }) => return Ok(None),
            Err(error) => return Err(error),
        };
        let each = groups.iter().enumerate().map(|(number, group)| {
            let answers = engine.answers(number)?;
            Ok(weighed(&self.net, &questions[number], group, &answers))
        });
        each.collect::<Result<Vec<f64>, InferError>>().map(Some)
    }
}

/// The question whose answers a group of findings speaks of.
fn asked(group: &[Finding]) -> Question {
    let mut signs: Vec<_> = group.iter().map(|finding| finding.var).collect();
    signs.sort_unstable();
    signs.dedup();
    Question {
        signs,
        shape: Shape::Grid,
    }
}

/// The chance of what was found: each joint answer's chance times its likelihood.
fn weighed(net: &Network, question: &Question, group: &[Finding], answers: &Answers) -> f64 {
    let likelihood = |mut answer: usize| {
        let mut product = 1.0;
        for &sign in question.signs.iter().rev() {
            let states = net.node(sign).states;
            let state = answer % states;
            answer /= states;
            let of = group.iter().filter(|finding| finding.var == sign);
            product *= of.map(|finding| finding.likelihood[state]).product::<f64>();
        }
        product
    };
    answers
        .probability
        .iter()
        .enumerate()
        .map(|(answer, p)| p * likelihood(answer))
        .sum()
}
