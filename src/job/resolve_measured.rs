//! Measurements in a log → findings: they stand in place of an answer to the same check.

use crate::advise::Measured as MeasuredHold;
use crate::ids::{CheckId, TaskId};
use crate::job::file::Sure;
use crate::job::find::{find_task, list};
use crate::job::measured::{CoolantReading, GaugeLog, PortMap, UsualFill, not_attached};
use crate::job::problem::JobProblem;
use crate::job::walk::{InPlaceOf, Walk};
use crate::measure::balance::MeasuredLeak;
use crate::measure::hold::{Hold, HoldResult, KPA_PER_PSI, Verdict, read_hold, two_digits};
use crate::measure::ports::examine;
use crate::notice::codes;
use crate::reading;
use crate::rules::base::{Measured, PortShows, Side, StrengthShows};

/// Taken where nobody noted the coolant's temperature, °C.
const ASSUMED_C: f64 = 20.0;
/// A hold pumped to less of the limit than this does not clear what opens only under pressure.
const LIMIT_REACHED: f64 = 0.9;
/// A hold with coolant warmer than this is no cold one, °C.
const WARM_FROM_C: f64 = 50.0;

impl Walk<'_> {
    /// A gauge log: a likelihood per level of the worst leak that the gauge sees.
    pub(super) fn gauge(&mut self, log: &GaugeLog) -> Result<(), JobProblem> {
        let task =
            self.measured_task(&log.check, log.at.as_deref(), "a gauge log", |measured| {
                matches!(measured, Measured::Gauge(_))
            })?;
        let graph = self.case.graph.clone();
        let of = &graph.tasks[task];
        let Some(gauged) = of.gauge else {
            let message = format!("`{}` has nothing that a gauge could see here", log.check);
            return Err(JobProblem::new(codes::NOT_HERE, message).help("take the entry out"));
        };
        if gauged.only_apart && log.air.is_none() {
            let message = format!(
                "`{}` tries the tester without the vehicle, whose air says nothing here",
                log.check
            );
            return Err(JobProblem::new(codes::MISSING_KEY, message).help(
                "write the air in tester and hose, `air_ml: 120`, or answer the check in words",
            ));
        }
        let mut hold = log.hold(UsualFill {
            air_ml: self.case.layout.air_space_ml,
            coolant_l: self.case.layout.coolant_litres,
        })?;
        if let (Some(loss), Some(first)) = (&self.case.loss, hold.readings.first()) {
            let kpa = first.gauge_kpa;
            if kpa > 0.0 {
                hold.leak_that_matters_ml_per_min = Some(loss.told.leak_that_matters(kpa, kpa));
            }
        }
        let result = read_hold(&hold).map_err(|error| {
            JobProblem::new(
                codes::OUT_OF_RANGE,
                format!("this gauge log can't be read: {error}"),
            )
        })?;
        let first = hold.readings[0];
        let coolant_c = first.coolant_c.or(first.air_c).unwrap_or(ASSUMED_C);
        let levels: Vec<reading::Band> = (self.case.rules.levels.iter())
            .map(|level| level.ml_per_min)
            .collect();
        let finding = reading::hold(gauged.node, &result, &levels, coolant_c);
        let mut words = self.hold_words(task, &hold, &result);
        if gauged.with_apart && !gauged.only_apart && !self.blank_tested() {
            words.push_str(
                "; the tester was not tried on a blank before it, and its own leak looks the same",
            );
        }
        self.case.measured.push(MeasuredHold {
            entry: self.number,
            falls: result.verdict == Verdict::Falls,
            holds: result.verdict == Verdict::Holds && self.reached_the_limit(task, &hold),
            leak: MeasuredLeak {
                least_ml_per_min: result.interval_ml_per_min.0,
                most_ml_per_min: result.interval_ml_per_min.1,
                gauge_kpa: first.gauge_kpa,
                cold: coolant_c < WARM_FROM_C,
            },
            only_apart: gauged.only_apart,
            gauge: gauged.node,
        });
        self.done(of);
        let normal = result.verdict != Verdict::Falls;
        self.note(task, vec![finding], (words, normal), InPlaceOf::All);
        Ok(())
    }

    /// Whether a hold was pumped to the limit, or near enough; the tester on a blank has none.
    fn reached_the_limit(&self, task: TaskId, hold: &Hold) -> bool {
        let blank = (self.case.graph.tasks[task].gauge).is_some_and(|gauged| gauged.only_apart);
        let highest = hold
            .readings
            .iter()
            .map(|read| read.gauge_kpa)
            .fold(0.0, f64::max);
        let limit = self.case.limit_psi().filter(|_| !blank);
        limit.is_none_or(|(psi, _)| highest / KPA_PER_PSI >= LIMIT_REACHED * psi)
    }

    fn hold_words(&self, task: TaskId, hold: &Hold, result: &HoldResult) -> String {
        let of = &self.case.graph.tasks[task];
        let (first, last) = (hold.readings[0], hold.readings[hold.readings.len() - 1]);
        let highest = hold.readings.iter().map(|read| read.gauge_kpa);
        let highest = highest.fold(0.0, f64::max);
        // The pressure that was pumped to, which need not be the limit.
        let psi = highest / KPA_PER_PSI;
        let pumped = format!("{} psi ({highest:.0} kPa)", (10.0 * psi).round() / 10.0);
        let name = &self.case.rules.checks[of.check].named.name;
        let name = (self.case).filled(of, &name.replace("{limit}", &pumped));
        let (low, high) = result.interval_ml_per_min;
        let says = match result.verdict {
            Verdict::Falls => format!(
                "falls, {} mL/min ({} to {})",
                two_digits(result.leak_ml_per_min),
                two_digits(low),
                two_digits(high)
            ),
            Verdict::Holds => format!(
                "holds, {} mL/min would have shown",
                two_digits(result.smallest_leak_ml_per_min)
            ),
            Verdict::CannotTell => match result.wait_until_minute {
                Some(minute) => format!("can't tell yet, hold until minute {minute:.0}"),
                None => "can't tell, and to go on like this does not help; overnight, with the temperatures noted, may"
                    .to_owned(),
            },
        };
        let mut words = format!(
            "gauge log of {:.0} min: {name}: {says}",
            last.minute - first.minute
        );
        let on_the_vehicle = of.gauge.is_some_and(|gauged| !gauged.only_apart);
        let Some((limit_psi, _)) = self.case.limit_psi().filter(|_| on_the_vehicle) else {
            return words;
        };
        if psi > 1.02 * limit_psi {
            words.push_str("; pumped above the limit: never again");
        } else if result.verdict == Verdict::Holds && psi < LIMIT_REACHED * limit_psi {
            words.push_str("; a leak may open only nearer the limit of ");
            words.push_str(&self.case.limit_words());
        }
        words
    }

    /// Whether the tester has been tried on a blank.
    fn blank_tested(&self) -> bool {
        let tasks = &self.case.graph.tasks;
        let blank = |task: TaskId| tasks[task].gauge.is_some_and(|gauged| gauged.only_apart);
        self.case
            .found
            .iter()
            .any(|found| found.task.is_some_and(blank))
    }

    /// A measured strength: an answer by the shares of what the instrument leaves open.
    pub(super) fn coolant(&mut self, measured: &CoolantReading) -> Result<(), JobProblem> {
        let task =
            self.measured_task(&measured.check, None, "a measured strength", |measured| {
                matches!(measured, Measured::Strength(_))
            })?;
        let (rules, graph) = (self.case.rules, &self.case.graph.clone());
        let of = &graph.tasks[task];
        let check = &rules.checks[of.check];
        let strength = measured
            .strength()
            .map_err(|error| JobProblem::new(codes::OUT_OF_RANGE, error.to_string()))?;
        let shows: &[StrengthShows] = match &check.measured {
            Some(Measured::Strength(shows)) => shows,
            _ => &[],
        };
        let (mut findings, mut states, mut said) = (Vec::new(), Vec::new(), Vec::new());
        for limit in shows {
            let (sign, answer) = limit.shows;
            let (var, answers) = (of.signs[sign], &check.signs[sign].answers);
            let finding = match limit.side {
                Side::Below => reading::strength_below,
                Side::Above => reading::strength_above,
            }(var, answers.len(), answer, &strength, limit.percent);
            let shown = finding.likelihood[answer] > 0.5;
            states.push((sign, if shown { answer } else { 0 }));
            if shown {
                said.push(answers[answer].name.clone());
            }
            findings.push(finding);
        }
        let range = if strength.highest > strength.lowest {
            format!(" ({:.0} to {:.0})", strength.lowest, strength.highest)
        } else {
            String::new()
        };
        let says = if said.is_empty() {
            "neither too thin nor too strong".to_owned()
        } else {
            said.join(", ")
        };
        let words = format!(
            "{}: measured {:.0} %{range}: {says}",
            self.case.filled(of, &check.named.name),
            strength.percent
        );
        self.done(of);
        self.raise_blocks(of.check, &states);
        let normal = said.is_empty();
        self.note(task, findings, (words, normal), InPlaceOf::All);
        self.case.strength = Some((self.number, strength.percent));
        Ok(())
    }

    /// A port map: its grade, or the channel under the clamp, as an answer.
    pub(super) fn port(&mut self, map: &PortMap) -> Result<(), JobProblem> {
        let task = self.measured_task(&map.check, map.at.as_deref(), "a port map", |measured| {
            matches!(measured, Measured::Port(_))
        })?;
        let (rules, graph) = (self.case.rules, &self.case.graph.clone());
        let of = &graph.tasks[task];
        let Some(port) = &map.read else {
            return Err(not_attached(&map.file));
        };
        let found = examine(port, &rules.policy.ports).map_err(|errors| {
            let errors: Vec<String> = errors.iter().map(ToString::to_string).collect();
            let message = format!("the port in `{}` can't be: {}", map.file, errors.join("; "));
            JobProblem::new(codes::OUT_OF_RANGE, message)
        })?;
        let check = &rules.checks[of.check];
        let Some(Measured::Port(PortShows { channel, grades })) = &check.measured else {
            return Ok(());
        };
        let open = (found.found.as_ref()).is_some_and(|placed| placed.crossing.is_open());
        let (sign, answer) = if open {
            *channel
        } else {
            grades[found.grade as usize]
        };
        let under = if open {
            ", a channel under the clamp as found"
        } else {
            ""
        };
        let words = format!(
            "port map, {}{under}: {}",
            found.grade, check.signs[sign].answers[answer].name
        );
        self.done(of);
        self.answer(
            task,
            &[(sign, answer)],
            &words,
            Sure::Sure,
            false,
            InPlaceOf::All,
        );
        Ok(())
    }

    /// The task of a check that takes such a measurement.
    pub(super) fn measured_task(
        &self,
        check: &str,
        at: Option<&str>,
        what: &str,
        takes: impl Fn(&Measured) -> bool,
    ) -> Result<TaskId, JobProblem> {
        let (rules, graph) = (self.case.rules, &self.case.graph.clone());
        let covers = &self.case.set_up.covers_off;
        let task = find_task(rules, self.case.layout, graph, check, at, covers)?;
        let can = |id: CheckId| rules.checks[id].measured.as_ref().is_some_and(&takes);
        if can(graph.tasks[task].check) {
            return Ok(task);
        }
        let known: Vec<&str> = rules
            .checks
            .enumerated()
            .filter(|(id, _)| can(*id) && graph.tasks.iter().any(|task| task.check == *id))
            .map(|(_, check)| check.named.id.as_str())
            .collect();
        let message = format!("`{check}` takes no {}", what.trim_start_matches("a "));
        Err(JobProblem::new(codes::NOT_HERE, message)
            .help(format!("{what} belongs to {}", list(&known))))
    }
}
