//! What a compiled engine answers.
//!
//! In: an [`Engine`] and the questions announced to it. Out: the chance of each answer and of the
//! targets after it. What all questions need goes through the calibrated tree together and is kept;
//! answers are read off as differences of sums of it.
//!
//! Example: a question asked twice is worked out once.

use std::collections::BTreeSet;

use crate::chance::ROUNDING;
use crate::ids::VarId;
use crate::infer::asked::{Planned, expand_inside};
use crate::infer::batch::Term;
use crate::infer::calibrate::Numbers;
use crate::infer::compile::Model;
use crate::infer::engine::{Engine, OUTSIDE, Source, clipped};
use crate::infer::plan::{Sum, answers_from};
use crate::infer::{Answers, InferError, Question, Shape, evidence};

impl Engine {
    /// The mean of each product of weights on different variables; each was a target or announced as
    /// marginal. Weights of 0 and 1 give the chance that all of several events come together.
    pub fn means(&self, products: &[Vec<(VarId, Vec<f64>)>]) -> Vec<f64> {
        if products.is_empty() {
            return Vec::new();
        }
        let terms: Vec<Term> = (products.iter())
            .map(|weights| self.model.reweigh(weights))
            .collect();
        let (numbers, _) = self.calibrated.quickest();
        let nothing = (&self.events[..], 0);
        let values = (self.calibrated).propagate(numbers, &self.tree, &self.model, nothing, &terms);
        values.into_iter().map(|of_term| of_term[0]).collect()
    }

    /// Works out several questions at once, by their positions in the slice given to
    /// [`Engine::new`]; what they share is worked out once. [`Engine::answers`] then reads them off.
    ///
    /// # Errors
    /// [`InferError::NoSuchQuestion`].
    pub fn work_out(&mut self, questions: &[usize]) -> Result<(), InferError> {
        for &number in questions {
            match self.questions.get_mut(number) {
                None => return Err(InferError::NoSuchQuestion(number)),
                Some(Planned::Shared { products, sums, .. }) if sums.is_none() => {
                    let planned = products
                        .iter()
                        .map(|products| self.plan.add(&self.model, products));
                    *sums = Some(planned.collect());
                }
                Some(_) => {}
            }
        }
        let known = self.values.len();
        if known < self.plan.terms.len() {
            let (numbers, _) = self.calibrated.quickest();
            if known == 0 {
                self.calibrated.shorten(&self.tree, numbers);
            }
            let more = self.propagate(numbers, &self.plan.terms[known..]);
            self.values.extend(more);
        }
        self.work_out_finer(questions);
        Ok(())
    }

    /// Works out again in more digits what some of the questions can't be trusted without.
    fn work_out_finer(&mut self, questions: &[usize]) {
        if self.calibrated.finer().is_none() {
            return;
        }
        let (_, noise) = self.calibrated.quickest();
        let mut wanted: BTreeSet<usize> = BTreeSet::new();
        for &number in questions {
            let Planned::Shared {
                sums: Some(sums),
                shape,
                counts,
                ..
            } = &self.questions[number]
            else {
                continue;
            };
            let chances = self.column(0, sums, *shape, counts);
            let rare = |p: f64| p != 0.0 && p > self.rarest && p < noise / self.off;
            if chances.iter().any(|&p| rare(p)) {
                wanted.extend(terms_of(sums).filter(|term| !self.finer.contains_key(term)));
            }
        }
        if wanted.is_empty() {
            return;
        }
        if self.finer.is_empty() {
            self.calibrated.shorten(&self.tree, Numbers::Twofold);
        }
        let terms: Vec<Term> = (wanted.iter())
            .map(|&term| self.plan.terms[term].clone())
            .collect();
        let values = self.propagate(Numbers::Twofold, &terms);
        self.finer.extend(wanted.into_iter().zip(values));
    }

    fn propagate(&self, numbers: Numbers, terms: &[Term]) -> Vec<Vec<f64>> {
        let followed = (&self.events[..], self.follow);
        (self.calibrated).propagate(numbers, &self.tree, &self.model, followed, terms)
    }

    /// The answers of a question, by its position in the slice given to [`Engine::new`].
    ///
    /// # Errors
    /// [`InferError::NoSuchQuestion`]; [`InferError::Numeric`] if a result is no probability;
    /// [`InferError::TooDense`] if this question's own tree passes the budget.
    pub fn answers(&mut self, question: usize) -> Result<Answers, InferError> {
        self.work_out(&[question])?;
        match &self.questions[question] {
            Planned::Apart {
                answers: Some(known),
                ..
            } => Ok(known.clone()),
            Planned::Apart {
                question: asked, ..
            } => {
                let found = self.answered_apart(asked)?;
                if let Planned::Apart { answers, .. } = &mut self.questions[question] {
                    *answers = Some(found.clone());
                }
                Ok(found)
            }
            Planned::Shared {
                sums,
                shape,
                counts,
                ..
            } => self.read(sums.as_deref().unwrap_or_default(), *shape, counts),
        }
    }

    /// Answers a question by a tree of its own.
    fn answered_apart(&self, question: &Question) -> Result<Answers, InferError> {
        let Some(source) = &self.source else {
            return Err(InferError::NoSuchQuestion(0));
        };
        let Source {
            net,
            findings,
            targets,
            options,
        } = &**source;
        let seen = evidence::merge(net, findings)?;
        let wanted: Vec<VarId> = targets.iter().map(|target| target.var).collect();
        let asked = std::slice::from_ref(question);
        let expansion = expand_inside(net, &seen, wanted, asked);
        let model = Model::new(net, &seen, &expansion.needs);
        let prepared = (asked, model, expansion);
        Self::compiled(net, findings, targets, &[], prepared, options)?.answers(0)
    }

    /// Per answer: its chance (place 0), or the chance of it and a target together.
    fn column(&self, place: usize, sums: &[Sum], shape: Shape, counts: &[usize]) -> Vec<f64> {
        let base = if place == 0 {
            1.0
        } else {
            self.targets[place - 1]
        };
        let finer = self.in_more_digits(sums);
        let value = |sum: &Sum| {
            let part = |(factor, term): &(f64, Option<usize>)| {
                let value = |term: usize| {
                    let values = if finer {
                        &self.finer[&term]
                    } else {
                        &self.values[term]
                    };
                    values[place]
                };
                factor * term.map_or(base, value)
            };
            sum.iter().map(part).sum::<f64>()
        };
        let cumulative: Vec<f64> = sums.iter().map(value).collect();
        answers_from(shape, counts, base, &cumulative)
    }

    fn in_more_digits(&self, sums: &[Sum]) -> bool {
        !self.finer.is_empty() && terms_of(sums).all(|term| self.finer.contains_key(&term))
    }

    fn read(&self, sums: &[Sum], shape: Shape, counts: &[usize]) -> Result<Answers, InferError> {
        let column = |place: usize| self.column(place, sums, shape, counts);
        let noise = match self.calibrated.finer() {
            Some(noise) if self.in_more_digits(sums) => noise,
            _ => self.calibrated.quickest().1,
        };
        let rarest = ROUNDING.max(noise / self.off);
        let outside = OUTSIDE.max(noise);
        let mut probability = column(0);
        for p in &mut probability {
            *p = clipped("an answer's probability", *p, outside)?;
        }
        let followed = &self.targets[..self.follow];
        let mut targets = vec![followed.to_vec(); probability.len()];
        // Place 0 is the answer's own chance.
        for target in 1..=self.follow {
            for (answer, joint) in column(target).into_iter().enumerate() {
                let p = probability[answer];
                let joint = clipped("a target with an answer", joint, outside)?;
                if p > rarest {
                    if joint > p + outside {
                        let what = "a target after an answer";
                        return Err(InferError::Numeric {
                            what,
                            value: joint / p,
                        });
                    }
                    targets[answer][target - 1] = (joint / p).min(1.0);
                }
            }
        }
        Ok(Answers {
            probability,
            targets,
        })
    }
}

fn terms_of(sums: &[Sum]) -> impl Iterator<Item = usize> {
    sums.iter().flatten().filter_map(|(_, term)| *term)
}
