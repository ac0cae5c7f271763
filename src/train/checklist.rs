//! The best fixed order of checks, as a rival for drills.
//!
//! In: a field and jobs drawn from it. Out: an order of tasks. It is begun greedily and bettered by
//! moving single tasks, so that over the jobs the minutes until some check shows something at a
//! place that leaks are least; checks that mostly mislead are left out. No inference is needed for that: the drawn vehicle says what each
//! check would show.

use std::collections::BTreeMap;

use crate::advise::offers;
use crate::graph::Asked;
use crate::ids::{Id, PartId, TaskId};
use crate::show::task_id;
use crate::train::TrainError;
use crate::train::draw::Drawn;
use crate::train::drill::Drill;
use crate::train::play::{Field, case_of};

/// Rounds of the local search.
const ROUNDS: usize = 4;

/// A task that shows something is right at least this often, or it is left out of the list.
const MOSTLY: f64 = 0.5;

/// A task as the checklist sees it.
struct Entry {
    named: String,
    minutes: f64,
    /// The jobs in which it shows something at a place that leaks.
    tells: Vec<usize>,
}

/// Learns an order on `jobs` vehicles drawn with `seed`.
///
/// # Errors
/// As [`Drill::vehicle`].
pub fn learn_checklist(
    field: &Field<'_>,
    seed: u64,
    jobs: usize,
) -> Result<Vec<String>, TrainError> {
    let case = case_of(
        field,
        &crate::job::JobFile {
            layout: field.layout.named.id.clone(),
            ..crate::job::JobFile::default()
        },
    )?;
    let mut told: BTreeMap<TaskId, Vec<usize>> = BTreeMap::new();
    let mut misled: BTreeMap<TaskId, usize> = BTreeMap::new();
    let draws = Drill {
        jobs,
        seed,
        policies: Vec::new(),
        threads: 1,
    };
    let open = offers(&case).open;
    for job in 0..jobs {
        let drawn = draws.vehicle(field, job)?;
        let sources = drawn.source_places(field.rules, field.layout, field.graph);
        for offer in &open {
            match first_abnormal(field, &drawn, &offer.asked) {
                Some(part) if sources.contains(&part) => {
                    told.entry(offer.asked.task).or_default().push(job);
                }
                Some(_) => *misled.entry(offer.asked.task).or_default() += 1,
                None => {}
            }
        }
    }
    let mut left: Vec<Entry> = open
        .iter()
        .filter_map(|offer| {
            Some(Entry {
                named: task_id(&case, offer.asked.task),
                minutes: offer.minutes(&case),
                tells: told.remove(&offer.asked.task).filter(|told| {
                    let misled = misled.get(&offer.asked.task).copied().unwrap_or(0);
                    told.len() as f64 >= MOSTLY * (told.len() + misled) as f64
                })?,
            })
        })
        .collect();
    let mut order: Vec<Entry> = Vec::new();
    let mut solved = vec![false; jobs];
    while !left.is_empty() {
        let rate = |entry: &Entry| {
            let new = entry.tells.iter().filter(|&&job| !solved[job]).count();
            new as f64 / entry.minutes
        };
        let best = (0..left.len())
            .max_by(|&a, &b| rate(&left[a]).total_cmp(&rate(&left[b])).then(b.cmp(&a)))
            .unwrap_or(0);
        let entry = left.remove(best);
        for &job in &entry.tells {
            solved[job] = true;
        }
        order.push(entry);
    }
    better(&mut order, jobs);
    Ok(order.into_iter().map(|entry| entry.named).collect())
}

/// The place at which a check, or the first place at which a look over a zone, shows something.
fn first_abnormal(field: &Field<'_>, drawn: &Drawn, asked: &Asked) -> Option<PartId> {
    let shows = |task: TaskId| {
        let signs = field.graph.tasks[task].signs.iter();
        signs
            .map(|sign| drawn.states[sign.index()])
            .any(|at| at > 0)
    };
    let tasks = asked.places.iter().chain([&asked.task]);
    let first = tasks.copied().find(|&task| shows(task))?;
    field.graph.tasks[first].part
}

/// Moves single tasks as long as that helps.
fn better(order: &mut Vec<Entry>, jobs: usize) {
    let mut now = minutes_to_solve(order, jobs);
    for _ in 0..ROUNDS {
        let before = now;
        for from in 0..order.len() {
            for to in [from.saturating_sub(3), from.saturating_sub(1)] {
                let entry = order.remove(from);
                order.insert(to, entry);
                let moved = minutes_to_solve(order, jobs);
                if moved < now {
                    now = moved;
                    break;
                }
                let entry = order.remove(to);
                order.insert(from, entry);
            }
        }
        if now >= before {
            break;
        }
    }
}

/// Sum over the jobs of the minutes until a check tells; all of the list where none does.
fn minutes_to_solve(order: &[Entry], jobs: usize) -> f64 {
    let mut solved = vec![false; jobs];
    let mut left = jobs;
    let (mut so_far, mut sum) = (0.0, 0.0);
    for entry in order {
        so_far += entry.minutes;
        for &job in &entry.tells {
            if !std::mem::replace(&mut solved[job], true) {
                sum += so_far;
                left -= 1;
            }
        }
    }
    sum + left as f64 * so_far
}
