//! The page that is taken to the vehicle.
//!
//! In: an [`Advice`]. Out: the checks that are done before the tool is asked again. For the first checks of a
//! job it is asked after each; later, as long as all is well, what stands on the page just behind the best is done in one go.
//!
//! Example: after a dry look at one joint the next joint of the page is looked at.

use std::collections::{BTreeSet, VecDeque};

use crate::advise::{Case, Offer, Retest, offers};
use crate::ids::TaskId;
use crate::train::turn::{Advice, Turn};

/// What of a page has not been done yet.
#[derive(Debug, Default)]
pub(super) struct Page {
    rest: VecDeque<TaskId>,
    /// Places looked at since the page was written, as tasks.
    looked: BTreeSet<TaskId>,
}

impl Page {
    /// The page of an advice.
    pub fn of(advice: &Advice) -> Self {
        let mut page = Self {
            rest: advice.nearly_as_good.iter().copied().collect(),
            looked: BTreeSet::new(),
        };
        if let Turn::Check(offer) = &advice.turn {
            page.note(offer);
        }
        page
    }

    /// The next check of the page; none if the last one found something, or if the page is done.
    pub fn next(&mut self, case: &Case<'_>) -> Option<Offer> {
        if self.rest.is_empty() || !case.found.last()?.normal {
            self.rest.clear();
            return None;
        }
        let open = offers(case).open;
        let retest = Retest::of(case).filter(|retest| !retest.complete() && !retest.falls());
        let wanted = |task: TaskId| {
            let mut lacking = retest.iter().flat_map(Retest::lacking);
            retest.is_none() || lacking.any(|part| part.lacking.contains(&task))
        };
        while let Some(task) = self.rest.pop_front() {
            let offer = open.iter().find(|offer| offer.asked.task == task);
            if let Some(offer) = offer.filter(|offer| wanted(task) && self.is_fresh(offer)) {
                self.note(offer);
                return Some(offer.clone());
            }
        }
        None
    }

    /// Whether none of the places that a check looks at was looked at for this page.
    fn is_fresh(&self, offer: &Offer) -> bool {
        !offer
            .asked
            .looks_at()
            .iter()
            .any(|at| self.looked.contains(at))
    }

    fn note(&mut self, offer: &Offer) {
        self.looked.extend(offer.asked.looks_at());
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::advise::Shop;
    use crate::graph::CausalGraph;
    use crate::job::{AnswerGiven, Entry, Found, JobFile, resolve};
    use crate::rules;

    /// Common practice: look by look down the list, and stop to think at the first that finds something.
    #[test]
    fn a_page_is_worked_off_until_something_is_found() {
        let loaded = rules::load_embedded();
        let base = loaded.rules.as_ref().expect("the built-in rules load");
        let layout = loaded.layouts.first().expect("a built-in layout");
        let graph = CausalGraph::expand(base, layout).expect("a graph");
        let read = |answer: &str| {
            let habit = Found {
                check: "smell_habit".to_owned(),
                answer: AnswerGiven::One(answer.to_owned()),
                ..Found::default()
            };
            let job = JobFile {
                layout: layout.named.id.clone(),
                log: vec![Entry::Found(habit).into()],
                ..JobFile::default()
            };
            resolve(&job, base, layout, &graph, &Shop::default(), 0.03)
                .expect("the job can be read")
        };
        let well = read("none");
        let open = offers(&well).open;
        let sweep = (open.iter())
            .find(|offer| offer.asked.places.len() > 1)
            .expect("a look over several places");
        let joint = sweep.asked.places[0];
        let other = open.iter().map(|offer| offer.asked.task);
        let other = other
            .clone()
            .find(|task| *task != sweep.asked.task && !sweep.asked.places.contains(task))
            .expect("another check");
        let page = || Page {
            rest: [sweep.asked.task, joint, other].into(),
            looked: BTreeSet::new(),
        };
        let done = |page: &mut Page, case: &Case<'_>| page.next(case).map(|offer| offer.asked.task);
        let mut all_well = page();
        assert_eq!(done(&mut all_well, &well), Some(sweep.asked.task));
        // The sweep has looked at that joint.
        assert_eq!(done(&mut all_well, &well), Some(other));
        assert_eq!(done(&mut all_well, &well), None);
        let mut smelt = page();
        assert_eq!(done(&mut smelt, &read("bonnet")), None);
        assert_eq!(done(&mut smelt, &well), None);
    }
}
