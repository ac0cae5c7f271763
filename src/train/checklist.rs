//! The best fixed order of checks, as a rival for drills.
//!
//! In: a field and vehicles drawn from it. Out: an order of all tasks that can be done. It is begun
//! with what tells most per minute on these vehicles and bettered by moving single tasks, so that
//! the minutes until a place that leaks is named are least ([`Lessons`]). Minutes count the way from
//! one set-up to the next; what an earlier task has spoiled is left out.

use crate::advise::{Case, SetUp, offers};
use crate::graph::Asked;
use crate::ids::TaskId;
use crate::show::task_id;
use crate::train::TrainError;
use crate::train::drill::Drill;
use crate::train::lessons::{Lessons, Seen};
use crate::train::play::{Field, begun, case_of};

/// Rounds of the local search at most.
const ROUNDS: usize = 4;
/// So far a task is moved at a time: to the front and to the back.
const MOVES: [isize; 6] = [-12, -4, -1, 1, 4, 12];
/// Tasks that tell less than this a minute, in nats on a vehicle, stand at the end, by what they would tell
/// by themselves.
const TELLS_LITTLE: f64 = 1e-4;

/// Learns an order on `jobs` vehicles drawn with `seed`.
///
/// # Errors
/// As [`Drill::vehicle`].
pub fn learn_checklist(
    field: &Field<'_>,
    seed: u64,
    jobs: usize,
) -> Result<Vec<String>, TrainError> {
    let case = case_of(field, &begun(field)?)?;
    let asked: Vec<Asked> = offers(&case).open.into_iter().map(|of| of.asked).collect();
    let draws = Drill {
        jobs,
        seed,
        policies: Vec::new(),
        threads: 1,
    };
    let states = |sign| field.graph.network.node(sign).states;
    let mut seen = Vec::with_capacity(jobs);
    for job in 0..jobs {
        let drawn = draws.vehicle(field, job)?;
        seen.push(Seen {
            sources: drawn.source_places(field.rules, field.layout, field.graph),
            answers: asked.iter().map(|of| drawn.answer(of, states)).collect(),
        });
    }
    let lessons = Lessons::of(&seen, field.rules.policy.named_at);
    let mut ways = Ways::of(&case, asked.iter().map(|of| of.task).collect());
    let (mut order, telling) = most_telling_first(&lessons, &mut ways, jobs);
    better(&mut order, telling, &lessons, &mut ways);
    let named = |at: usize| task_id(&case, asked[at].task);
    Ok(order.into_iter().map(named).collect())
}

/// Begins with what tells most per minute where nothing is named yet, from one set-up to the next.
/// Also how many tasks tell enough to be moved.
fn most_telling_first(lessons: &Lessons, ways: &mut Ways<'_>, jobs: usize) -> (Vec<usize>, usize) {
    let mut order = Vec::new();
    let mut left: Vec<usize> = (0..ways.tasks.len()).collect();
    let (mut stands, mut at) = (lessons.unchecked(), ARRIVES);
    while !left.is_empty() {
        let rates = left.iter().map(|&task| {
            let minutes = ways
                .step(at, task)
                .map_or(f64::INFINITY, |(minutes, _)| minutes);
            lessons.gain(&stands, task) / minutes
        });
        let rates: Vec<f64> = rates.collect();
        let best = (0..left.len())
            .max_by(|&a, &b| rates[a].total_cmp(&rates[b]).then(b.cmp(&a)))
            .filter(|&best| rates[best] >= TELLS_LITTLE * jobs as f64);
        let Some(best) = best else { break };
        let task = left.remove(best);
        lessons.check(&mut stands, task);
        at = ways.step(at, task).map_or(at, |(_, after)| after);
        order.push(task);
    }
    let telling = order.len();
    let stands = lessons.unchecked();
    let gains: Vec<f64> = (0..ways.tasks.len())
        .map(|task| lessons.gain(&stands, task))
        .collect();
    left.sort_by(|&a, &b| gains[b].total_cmp(&gains[a]).then(a.cmp(&b)));
    order.extend(left);
    (order, telling)
}

/// Moves single tasks among the first so many, as long as that helps.
fn better(order: &mut Vec<usize>, telling: usize, lessons: &Lessons, ways: &mut Ways<'_>) {
    let mut now = lessons.minutes(&ways.timed(&order[..telling]));
    for _ in 0..ROUNDS {
        let before = now;
        for from in 0..telling {
            for by in MOVES {
                let to = from.saturating_add_signed(by).min(telling - 1);
                if to == from {
                    continue;
                }
                let task = order.remove(from);
                order.insert(to, task);
                let moved = lessons.minutes(&ways.timed(&order[..telling]));
                if moved < now {
                    now = moved;
                    break;
                }
                let task = order.remove(to);
                order.insert(from, task);
            }
        }
        if now >= before {
            break;
        }
    }
}

/// The number of the set-up in which the vehicle arrives.
const ARRIVES: usize = 0;

/// What a task takes from a set-up: minutes, and the number of the set-up after it; none where no
/// legal way leads there.
type Taken = Option<(f64, usize)>;

/// What tasks cost from set-up to set-up. Each set-up is looked into once.
struct Ways<'a> {
    case: Case<'a>,
    tasks: Vec<TaskId>,
    set_ups: Vec<SetUp>,
    /// Per set-up, per task; none for a set-up not looked into yet.
    steps: Vec<Option<Vec<Taken>>>,
}

impl<'a> Ways<'a> {
    fn of(case: &Case<'a>, tasks: Vec<TaskId>) -> Self {
        Self {
            case: case.clone(),
            tasks,
            set_ups: vec![case.set_up.clone()],
            steps: vec![None],
        }
    }

    /// What a task takes from a set-up.
    fn step(&mut self, from: usize, task: usize) -> Taken {
        if self.steps[from].is_none() {
            self.case.set_up = self.set_ups[from].clone();
            let mut known = vec![None; self.tasks.len()];
            for offer in offers(&self.case).open {
                let Some(task) = self.tasks.iter().position(|of| *of == offer.asked.task) else {
                    continue;
                };
                let minutes = offer.minutes(&self.case);
                known[task] = Some((minutes, self.number(offer.journey.to)));
            }
            self.steps[from] = Some(known);
        }
        self.steps[from].as_ref().and_then(|known| known[task])
    }

    fn number(&mut self, set_up: SetUp) -> usize {
        if let Some(known) = self.set_ups.iter().position(|of| *of == set_up) {
            return known;
        }
        self.set_ups.push(set_up);
        self.steps.push(None);
        self.set_ups.len() - 1
    }

    /// The tasks of an order that can still be done when their turn comes, each with the minutes
    /// from the start to its end.
    fn timed(&mut self, order: &[usize]) -> Vec<(usize, f64)> {
        let (mut at, mut end) = (ARRIVES, 0.0);
        let mut timed: Vec<(usize, f64)> = Vec::with_capacity(order.len());
        for &task in order {
            let graph = &self.case.graph;
            let this = &graph.tasks[self.tasks[task]];
            let spoils = |(other, _): &(usize, f64)| {
                self.case.spoils(&graph.tasks[self.tasks[*other]], this)
            };
            if timed.iter().any(spoils) {
                continue;
            }
            if let Some((minutes, after)) = self.step(at, task) {
                end += minutes;
                at = after;
                timed.push((task, end));
            }
        }
        timed
    }
}
