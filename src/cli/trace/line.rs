//! What a line typed in `trace` calls for.
//!
//! In: a line as read, and what is being asked. Out: a [`Reaction`]: text to show, entries to note, or
//! going on.

use std::collections::BTreeSet;
use std::path::Path;

use crate::advise::{Case, Explanation, Hunch, Proposal, Proposals, Ranking, Suspect, open_intake};
use crate::cli::Desk;
use crate::cli::ask::{HELP, Line, Said, typed_answer};
use crate::cli::entries::{certain, found, repaired, short};
use crate::cli::failure::Failure;
use crate::cli::hunch::suspect_named;
use crate::cli::log::log_text;
use crate::cli::set_up::set_up_refused;
use crate::cli::signs::later_signs;
use crate::cli::trace::Trace;
use crate::cli::understood::{Noted, noted};
use crate::cli::why::named_cause;
use crate::cli::world::{problems, rendered};
use crate::cli::zones::zone_entries;
use crate::graph::Asked;
use crate::job::{CANT_DO, Entry, JobFile, JobProblem, find_cause, find_task, uncovered};
use crate::rules::base::Condition;
use crate::show::{
    Page, hunch_text, next_page, proposal_text, ranking_text, suspect_id, task_id, why_text,
};
use crate::source::{SourceFile, Sources};

/// What is being asked, and how the job stands.
pub(super) struct AskedNow<'a> {
    pub case: &'a Case<'a>,
    pub best: &'a Asked,
    pub ranking: &'a Ranking,
    /// The proposal, with the others; none while the complaint is asked.
    pub offer: Option<(&'a Proposal, &'a Proposals)>,
}

/// What a line calls for.
pub(super) enum Reaction {
    /// The user stops.
    Stop,
    /// On to the next question.
    GoOn,
    /// Text, then another line.
    Say(String),
    /// Entries for the log.
    Note(Vec<Entry>),
}

impl Reaction {
    fn say(page: &Page) -> Self {
        Self::Say(page.text().to_owned())
    }
}

impl Trace<'_> {
    /// What a line calls for.
    pub(super) fn react(
        &mut self,
        desk: &mut Desk<'_>,
        now: &AskedNow<'_>,
        line: Line,
    ) -> Result<Reaction, Failure> {
        let (case, best) = (now.case, now.best);
        let mut page = desk.page();
        Ok(Reaction::Note(match line {
            Line::Stop => return Ok(Reaction::Stop),
            Line::Nothing if case.rules.checks[case.graph.tasks[best.task].check].intake => {
                self.skipped.insert(best.task);
                return Ok(Reaction::GoOn);
            }
            Line::Nothing => {
                page.para("Type one of the answers, `can't tell`, `skip` or `help`.");
                return Ok(Reaction::say(&page));
            }
            Line::Skip => {
                self.skipped.insert(best.task);
                return Ok(Reaction::GoOn);
            }
            Line::Enough => {
                let open = open_intake(case);
                let before = self.skipped.len();
                self.skipped.extend(open.iter().map(|asked| asked.task));
                if self.skipped.len() > before {
                    return Ok(Reaction::GoOn);
                }
                page.para("There are no questions left. `quit` stops here.");
                return Ok(Reaction::say(&page));
            }
            Line::Help => {
                help_text(&mut page);
                return Ok(Reaction::say(&page));
            }
            Line::How | Line::Rank | Line::Next | Line::Log | Line::Why(_) | Line::Hunch(_) => {
                self.tell(&mut page, now, line)?;
                return Ok(Reaction::say(&page));
            }
            Line::Withdraw(Some(number)) => vec![Entry::Withdrawn(number)],
            Line::Withdraw(None) if self.job.log.is_empty() => {
                page.para("Nothing has been noted yet.");
                return Ok(Reaction::say(&page));
            }
            Line::Withdraw(None) if self.last.is_empty() => {
                vec![Entry::Withdrawn(self.job.log.len())]
            }
            Line::Withdraw(None) => self.last.iter().copied().map(Entry::Withdrawn).collect(),
            Line::SetUpUnclear(text) => {
                page.para(&set_up_refused(case, &text));
                return Ok(Reaction::say(&page));
            }
            Line::SetUp(values) => vec![Entry::SetUp(values)],
            Line::Off(covers) => vec![Entry::CoversOff(covers)],
            Line::On(covers) => vec![Entry::CoversOn(covers)],
            Line::Cleared(block) => vec![Entry::Cleared(block)],
            Line::Note(text) => vec![Entry::Note(text)],
            Line::Written(text) => match written(&text, self.path(), desk) {
                Ok(entries) => entries,
                Err(Failure::Told(text)) => {
                    return Ok(Reaction::Say(format!("{}\n", text.trim_end())));
                }
                Err(other) => return Err(other),
            },
            Line::Confirmed(named) => vec![certain(&in_ids(case, named), true)],
            Line::RuledOut(named) => vec![certain(&in_ids(case, named), false)],
            Line::Repaired(named) => vec![repaired(&named)],
            Line::Zones(groups) => match zone_entries(case, best, &groups) {
                Ok(entries) => entries,
                Err(text) => {
                    page.para(&text);
                    return Ok(Reaction::say(&page));
                }
            },
            Line::Answer(said) => {
                let again = case.graph.tasks[best.task].again;
                return self.answer(desk, case, best, said, again);
            }
            Line::Finding(check, said) => match named_check(case, &check, best) {
                Ok(asked) => return self.answer(desk, case, &asked, said, false),
                Err(problem) => {
                    page.para(&format!("{} Nothing was noted.", short(&problem)));
                    return Ok(Reaction::say(&page));
                }
            },
        }))
    }

    /// Tells what a line asks for, the job left as it is.
    fn tell(&mut self, page: &mut Page, now: &AskedNow<'_>, line: Line) -> Result<(), Failure> {
        let case = now.case;
        match (line, now.offer) {
            (Line::How, Some((proposal, _))) => {
                proposal_text(page, case, proposal, &mut self.shown, true);
            }
            (Line::How, None) => {
                page.para("There is nothing to do for this one: ask, and type the answer.");
            }
            (Line::Next, Some((_, proposals))) => {
                next_page(page, case, proposals, 8, &self.skipped);
            }
            (Line::Next, None) => page.para(
                "First the questions of the complaint. Enter leaves one out, `enough` ends them.",
            ),
            (Line::Rank, _) => ranking_text(page, case, now.ranking, 12),
            (Line::Log, _) => log_text(page, case, &self.job),
            (Line::Why(named), _) => match named_cause(case, now.ranking, named.as_deref()) {
                Ok(cause) => why_text(page, case, &Explanation::of(case, cause)?),
                Err(Failure::Told(text)) => page.para(text.trim_start_matches("seepwise: ")),
                Err(other) => return Err(other),
            },
            (Line::Hunch(typed), _) => double_checked(page, case, &typed)?,
            _ => {}
        }
        Ok(())
    }

    /// The entries of an answer to a check; `again`: it was proposed to be done again.
    fn answer(
        &self,
        desk: &mut Desk<'_>,
        case: &Case<'_>,
        asked: &Asked,
        said: Said,
        again: bool,
    ) -> Result<Reaction, Failure> {
        Ok(match noted(case, asked, said) {
            Ok(Noted::Gauge(entry)) => Reaction::Note(vec![entry]),
            Ok(Noted::Said(mut said)) => {
                said.again |= again;
                Reaction::Note(self.answered(desk, case, asked, said)?)
            }
            Err(text) => {
                let mut page = desk.page();
                page.para(&format!("{text} Nothing was noted."));
                Reaction::say(&page)
            }
        })
    }

    /// The entries that an answer to a task makes, once its later signs have been asked.
    fn answered(
        &self,
        desk: &mut Desk<'_>,
        case: &Case<'_>,
        asked: &Asked,
        said: Said,
    ) -> Result<Vec<Entry>, Failure> {
        let task = asked.task;
        let entries = |said: &Said| -> Vec<Entry> {
            let found = Entry::Found(found(&task_id(case, task), said));
            // A cover that did not come off shows nothing.
            let seen = said.seen != Some("not") && said.answer != CANT_DO;
            let off = uncovered(case, asked).filter(|_| seen);
            off.into_iter().chain([found]).collect()
        };
        // The case that the answer so far would make, without noting it.
        let trial = |said: &Said| {
            let mut job = self.job.clone();
            job.log.extend(entries(said).into_iter().map(Into::into));
            let trial = self.vehicle.case(&job, self.waiting);
            trial.map_err(|found| problems(&found))
        };
        let said = later_signs(desk, case, task, said, trial)?;
        Ok(entries(&said))
    }
}

/// A fault that was named in plain words, as `FAULT@PLACE`; as typed if the words are no fault's alone.
fn in_ids(case: &Case<'_>, named: String) -> String {
    let condition = |known: &Condition| known.named.id == named.trim();
    let known = case.rules.conditions.iter().any(condition);
    let exact = find_cause(case.rules, case.layout, &case.graph, named.trim(), None);
    if known || exact.is_ok() {
        return named;
    }
    match suspect_named(case, &named) {
        Ok(suspect @ Suspect::Cause(_)) => suspect_id(case, suspect),
        _ => named,
    }
}

/// How a hunch stands.
fn double_checked(page: &mut Page, case: &Case<'_>, typed: &str) -> Result<(), Failure> {
    if typed.is_empty() {
        page.para(
            "What do you suspect? Type `hunch FAULT@PLACE`, `hunch @PLACE`, or say it in plain words: `hunch pump seal`.",
        );
        return Ok(());
    }
    let (named, full) = match typed.strip_suffix("--full") {
        Some(named) => (named.trim(), true),
        None => (typed, false),
    };
    match suspect_named(case, named) {
        Ok(suspect) => hunch_text(page, case, &Hunch::of(case, suspect, full)?, full),
        Err(Failure::Told(text)) => page.para(text.trim_start_matches("seepwise: ")),
        Err(other) => return Err(other),
    }
    Ok(())
}

/// Everything that can be typed.
pub(super) fn help_text(page: &mut Page) {
    let wide = HELP.iter().map(|(typed, _)| typed.len()).max();
    let wide = wide.unwrap_or_default();
    for (typed, does) in HELP {
        page.item("", &format!("{typed:wide$}  {does}"));
    }
}

/// `level_now=low` and `level_now: low` for `level_now = low`, where no sign or place of what is asked bears that name.
pub(super) fn meant(case: &Case<'_>, best: &Asked, line: Line) -> Line {
    let is_check = |named: &str| {
        let check = named.split('@').next().unwrap_or(named).trim();
        case.rules
            .checks
            .iter()
            .any(|known| known.named.id == check)
    };
    match line {
        Line::Answer(said) => match said.answer.split_once('=') {
            Some((named, answer)) if is_check(named) && !is_part_of(case, best, named) => {
                let named = named.trim().to_owned();
                let answer = answer.trim().to_owned();
                Line::Finding(named, Said { answer, ..said })
            }
            _ => Line::Answer(said),
        },
        Line::Zones(groups) => match &groups[..] {
            [(named, answers)] if is_check(named) => {
                Line::Finding(named.trim().to_owned(), typed_answer(&answers.join(", ")))
            }
            _ => Line::Zones(groups),
        },
        other => other,
    }
}

/// Whether a name is a sign of what is asked, or one of its places.
fn is_part_of(case: &Case<'_>, best: &Asked, named: &str) -> bool {
    let check = &case.rules.checks[case.graph.tasks[best.task].check];
    let mut places = best.places.iter();
    check.signs.iter().any(|sign| sign.named.id == named)
        || places.any(|&place| {
            let part = case.graph.tasks[place].part;
            part.is_some_and(|part| case.layout.parts[part].named.id == named)
        })
}

/// A check that was named, as a question. What is proposed is meant as it was proposed: with its cover off.
fn named_check(case: &Case<'_>, named: &str, proposed: &Asked) -> Result<Asked, JobProblem> {
    let (check, at) = match named.split_once('@') {
        Some((check, at)) => (check.trim(), Some(at.trim())),
        None => (named.trim(), None),
    };
    let covers = &case.set_up.covers_off;
    let task = find_task(case.rules, case.layout, &case.graph, check, at, covers)?;
    if task == proposed.task {
        return Ok(proposed.clone());
    }
    let none = BTreeSet::new();
    Ok(case.graph.ask(case.rules, case.layout, task, covers, &none))
}

/// An entry typed as it would stand in the job file; files that it names lie beside that.
fn written(text: &str, job: Option<&Path>, desk: &Desk<'_>) -> Result<Vec<Entry>, Failure> {
    let mut sources = Sources::new();
    let whole = format!("job: 1\nlayout: typed\nlog:\n  - {text}\n");
    let file = sources.add(SourceFile::new("typed", &whole));
    let mut read = JobFile::read(file, &sources)
        .map_err(|notices| Failure::Told(rendered(&notices, &sources, desk.surroundings)))?;
    let folder = job.and_then(Path::parent).unwrap_or(Path::new("."));
    read.attach(folder).map_err(|found| problems(&found))?;
    Ok(read.log.into_iter().map(|logged| logged.entry).collect())
}
