//! What many drawn vehicles teach about checks, without any inference.
//!
//! In: vehicles with a known source, and what each check would show on them. Out: [`Lessons`]: how
//! much each answer speaks for each place, as counted on these vehicles, and how a fixed order of
//! checks would fare on them. Checks are taken as independent given the place ("naive Bayes"), as
//! somebody does who goes by a printed list. What speaks for a vehicle's own sources is counted
//! on the others: else what happened once would look like a rule.
//!
//! Example: a place wet in four of five vehicles that leak there, and in one of a hundred others,
//! is named after that look alone.

use std::collections::BTreeMap;

use crate::ids::PartId;

/// Counts are drawn towards what is so at all places by so many vehicles.
const DRAWN_TOGETHER: f64 = 4.0;
/// Opening up a place for nothing counts so many minutes.
const NEEDLESS_MINUTES: f64 = 30.0;

/// One vehicle: where it leaks, and the answer that each check would get.
#[derive(Debug, Clone)]
pub(super) struct Seen {
    /// The places that leak.
    pub sources: Vec<PartId>,
    /// For each check the position of its answer.
    pub answers: Vec<usize>,
}

/// A vehicle as the lessons hold it.
struct Vehicle {
    /// For each place whether it leaks.
    leaks: Vec<bool>,
    /// For each check the evidence of its answer, by its place in `evidence`.
    rows: Vec<usize>,
    /// For each check, and each place that leaks, how much less the other vehicles say.
    without_it: Vec<Vec<f64>>,
}

/// What vehicles taught.
pub(super) struct Lessons {
    /// For each place the logarithm of its share among the sources.
    start: Vec<f64>,
    /// For each answer that was met: how much it speaks for each place, natural logarithms.
    evidence: Vec<Vec<f64>>,
    vehicles: Vec<Vehicle>,
    named_at: f64,
}

impl Lessons {
    /// Counts. A place is named from the chance `named_at` on.
    pub fn of(seen: &[Seen], named_at: f64) -> Self {
        let mut places: Vec<PartId> = seen.iter().flat_map(|of| of.sources.clone()).collect();
        places.sort_unstable();
        places.dedup();
        let leaks = |of: &Seen| places.iter().map(|at| of.sources.contains(at)).collect();
        let leaking: Vec<Vec<bool>> = seen.iter().map(leaks).collect();
        let mut of_place = vec![0.0; places.len()];
        for vehicle in &leaking {
            count(&mut of_place, vehicle);
        }
        let all: f64 = of_place.iter().sum();
        let mut counted: BTreeMap<(usize, usize), (f64, Vec<f64>)> = BTreeMap::new();
        for (of, vehicle) in seen.iter().zip(&leaking) {
            for (check, &answer) in of.answers.iter().enumerate() {
                let nothing = || (0.0, vec![0.0; places.len()]);
                let (times, at) = counted.entry((check, answer)).or_insert_with(nothing);
                *times += 1.0;
                count(at, vehicle);
            }
        }
        let numbers: BTreeMap<(usize, usize), usize> =
            counted.keys().copied().zip(0..counted.len()).collect();
        let vehicles_in_all = seen.len() as f64;
        // The logarithm of how often the answer is met where a place leaks; `others` leaves out one vehicle.
        let speaks = |times: f64, here: f64, of: f64, others: f64| {
            let usual = (times - others).max(0.5) / (vehicles_in_all - others).max(1.0);
            ((here - others + DRAWN_TOGETHER * usual) / (of - others + DRAWN_TOGETHER)).ln()
        };
        let evidence: Vec<Vec<f64>> = (counted.values())
            .map(|(times, at)| {
                let here = at.iter().zip(&of_place);
                here.map(|(n, of)| speaks(*times, *n, *of, 0.0)).collect()
            })
            .collect();
        let vehicles = seen.iter().zip(leaking).map(|(of, leaks)| {
            let answers = || of.answers.iter().enumerate();
            let places = || (0..leaks.len()).filter(|&place| leaks[place]);
            let without_it = answers().map(|(check, &answer)| {
                let (times, at) = &counted[&(check, answer)];
                let row = &evidence[numbers[&(check, answer)]];
                let less =
                    |place: usize| speaks(*times, at[place], of_place[place], 1.0) - row[place];
                places().map(less).collect()
            });
            Vehicle {
                without_it: without_it.collect(),
                rows: answers()
                    .map(|(check, &answer)| numbers[&(check, answer)])
                    .collect(),
                leaks,
            }
        });
        let vehicles = vehicles.collect();
        Self {
            start: of_place.iter().map(|n| (n / all).ln()).collect(),
            evidence,
            vehicles,
            named_at,
        }
    }

    /// Minutes until a place that leaks is named, summed over all vehicles. `list`: checks in their
    /// order, each with the minutes from the start to its end; where nothing right is named, all of it counts.
    pub fn minutes(&self, list: &[(usize, f64)]) -> f64 {
        let whole = list.last().map_or(0.0, |(_, end)| *end);
        let of_vehicle = |vehicle: &Vehicle| {
            let mut stand = self.start.clone();
            let mut needless = 0.0;
            for &(check, end) in list {
                self.add(vehicle, &mut stand, check);
                while let Some(place) = self.named(&stand) {
                    if vehicle.leaks[place] {
                        return end + needless;
                    }
                    // It was opened up and found tight.
                    stand[place] = f64::NEG_INFINITY;
                    needless += NEEDLESS_MINUTES;
                }
            }
            whole + needless
        };
        self.vehicles.iter().map(of_vehicle).sum()
    }

    /// The place that is likely enough to be named.
    fn named(&self, stand: &[f64]) -> Option<usize> {
        let best = (0..stand.len()).max_by(|&a, &b| stand[a].total_cmp(&stand[b]))?;
        if stand[best] == f64::NEG_INFINITY {
            return None;
        }
        let all: f64 = stand.iter().map(|of| (of - stand[best]).exp()).sum();
        (1.0 / all >= self.named_at).then_some(best)
    }

    /// How every vehicle stands before any check.
    pub fn unchecked(&self) -> Stands {
        Stands(self.vehicles.iter().map(|_| self.start.clone()).collect())
    }

    /// By how much a check would raise the chance of what leaks, as a logarithm, summed over the vehicles in
    /// which nothing is named yet.
    pub fn gain(&self, stands: &Stands, check: usize) -> f64 {
        let each = self.vehicles.iter().zip(&stands.0);
        each.filter(|(_, stand)| self.named(stand).is_none())
            .map(|(vehicle, stand)| {
                let mut after = stand.clone();
                self.add(vehicle, &mut after, check);
                ln_share(&after, &vehicle.leaks) - ln_share(stand, &vehicle.leaks)
            })
            .sum()
    }

    /// Does a check on every vehicle.
    pub fn check(&self, stands: &mut Stands, check: usize) {
        for (vehicle, stand) in self.vehicles.iter().zip(&mut stands.0) {
            self.add(vehicle, stand, check);
        }
    }

    /// What a check shows on a vehicle, onto how its places stand.
    fn add(&self, vehicle: &Vehicle, stand: &mut [f64], check: usize) {
        for (stand, more) in stand.iter_mut().zip(&self.evidence[vehicle.rows[check]]) {
            *stand += more;
        }
        let leaking = stand.iter_mut().zip(&vehicle.leaks);
        let leaking = leaking.filter(|(_, leaks)| **leaks).map(|(stand, _)| stand);
        for (stand, less) in leaking.zip(&vehicle.without_it[check]) {
            *stand += less;
        }
    }
}

/// How the places of each vehicle stand: logarithms, not yet made to sum to one.
pub(super) struct Stands(Vec<Vec<f64>>);

fn count(sums: &mut [f64], leaks: &[bool]) {
    for (sum, _) in sums.iter_mut().zip(leaks).filter(|(_, leaks)| **leaks) {
        *sum += 1.0;
    }
}

/// The logarithm of the share that places have together.
fn ln_share(stand: &[f64], of: &[bool]) -> f64 {
    let top = stand.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weight = |stand: &f64| (stand - top).exp();
    let all: f64 = stand.iter().map(weight).sum();
    let these = stand.iter().zip(of).filter(|(_, of)| **of);
    (these.map(|(stand, _)| weight(stand)).sum::<f64>() / all).ln()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ids::Id;

    fn seen(place: usize, answers: &[usize]) -> Seen {
        Seen {
            sources: vec![PartId::from_index(place)],
            answers: answers.to_vec(),
        }
    }

    /// By hand: a check that always tells the two places apart, after 5 minutes, names every
    /// source; one that shows the same everywhere names none.
    #[test]
    fn what_tells_apart_is_worth_more_than_what_does_not() {
        let many = 40;
        let vehicles: Vec<Seen> = (0..2 * many).map(|at| seen(at % 2, &[at % 2, 0])).collect();
        let lessons = Lessons::of(&vehicles, 0.9);
        let all = f64::from(2 * i32::try_from(many).unwrap_or(0));
        // On the 79 others: the answer 39 times, all at this place, so (39 + 4 · 39 / 79) / (39 + 4)
        // there; at the other place (0 + 4 · 40 / 80) / (40 + 4).
        assert!((lessons.minutes(&[(0, 5.0), (1, 9.0)]) - all * 5.0).abs() < 1e-9);
        assert!((lessons.minutes(&[(1, 4.0)]) - all * 4.0).abs() < 1e-9);
        let stands = lessons.unchecked();
        let (here, there) = ((39.0_f64 + 156.0 / 79.0) / 43.0, 2.0 / 44.0);
        let right = (here / (here + there)).ln() - 0.5_f64.ln();
        assert!((lessons.gain(&stands, 0) - all * right).abs() < 1e-9);
        assert!(lessons.gain(&stands, 1) <= 1e-9);
        // At 0.99 it is named after the second look alike, by odds of 21 to 1 twice.
        let strict = Lessons::of(&vehicles, 0.99);
        assert!((strict.minutes(&[(0, 5.0), (1, 9.0), (0, 14.0)]) - all * 14.0).abs() < 1e-9);
    }
}
