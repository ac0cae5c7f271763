//! `trace`: leads from the complaint to the leak, one check at a time.
//!
//! Lines come from a terminal or a pipe. After each entry the job is saved, if it has a file.

use std::collections::BTreeSet;
use std::path::PathBuf;

use crate::advise::{
    Belief, Case, Explanation, Proposal, Proposals, Ranking, Verdict, open_intake,
};
use crate::cli::Desk;
use crate::cli::args::{Args, TraceArgs};
use crate::cli::ask::{HELP, Line, Said, read};
use crate::cli::failure::Failure;
use crate::cli::log::log_text;
use crate::cli::pick::{Picked, one_of, pick};
use crate::cli::signs::{answers_of, matters, several};
use crate::cli::understood::{set_up_hint, set_up_text, understood};
use crate::cli::world::{Vehicle, World, opens_steps, problems, read_job, typed_finding};
use crate::cli::zones::zone_entries;
use crate::graph::Asked;
use crate::ids::{CautionId, TaskId};
use crate::job::{
    AnswerGiven, Entry, Found, JobFile, JobProblem, Role, Seen, Store, Sure, uncovered,
};
use crate::rules::base::Check;
use crate::show::{
    Page, changes_text, next_page, options_text, place_name, proposal_text, ranking_text,
    sign_text, task_id, verdict_text, why_text,
};

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &TraceArgs) -> Result<bool, Failure> {
    let world = World::load(args, desk.surroundings)?;
    let begun = of.job.as_ref().is_some_and(|path| path.exists());
    let mut job = match &of.job {
        Some(path) if begun => read_job(path, desk.surroundings)?,
        _ => JobFile::default(),
    };
    if let Some(layout) = &of.layout {
        if begun && *layout != job.layout {
            return Err(Failure::usage(format!(
                "this job is about `{}`, not `{layout}`; leave --layout out",
                job.layout
            )));
        }
        job.layout.clone_from(layout);
    }
    if job.layout.is_empty() {
        choose_layout(desk, &world, &mut job)?;
    }
    let vehicle = world.vehicle(&job.layout)?;
    if job.complaint.is_empty() {
        desk.put("What is the complaint, in the owner's words? (Enter to leave it)\n> ")?;
        job.complaint = desk.line()?.unwrap_or_default();
        job.title.clone_from(&job.complaint);
    }
    let waiting = world.waiting_counts(of.hurry.as_deref())?;
    let mut trace = Trace {
        vehicle: &vehicle,
        waiting,
        job,
        path: of.job.clone(),
        role: world.shop.role,
        shown: BTreeSet::new(),
        skipped: BTreeSet::new(),
        last: Vec::new(),
    };
    trace.save()?;
    trace.lead(desk)
}

impl Desk<'_> {
    /// The next line, without its end; `None` at the end of the input.
    fn line(&mut self) -> Result<Option<String>, Failure> {
        let mut line = String::new();
        let read = self
            .input
            .read_line(&mut line)
            .map_err(|error| Failure::usage(format!("a line can't be read: {error}")))?;
        if read > 0 && !self.surroundings.typing {
            // From a pipe nothing echoes the line; the story would be hard to follow.
            self.put(&format!("{}\n", line.trim_end()))?;
        }
        Ok((read > 0).then(|| line.trim().to_owned()))
    }
}

/// Asks until a vehicle is named.
fn choose_layout(desk: &mut Desk<'_>, world: &World, job: &mut JobFile) -> Result<(), Failure> {
    let layouts = &world.loaded.layouts;
    let known: Vec<(String, String)> = layouts
        .iter()
        .map(|layout| (layout.named.id.clone(), layout.named.name.clone()))
        .collect();
    let mut page = desk.page();
    page.heading("Which vehicle? Take the nearest in kind; type its word or number.");
    for (position, (id, name)) in known.iter().enumerate() {
        page.item(&format!("{:>2})", position + 1), &format!("{id}: {name}"));
    }
    desk.put(page.text())?;
    loop {
        desk.put("> ")?;
        let line = desk
            .line()?
            .ok_or_else(|| Failure::usage("no vehicle was named; use --layout"))?;
        let again = match pick(&known, &line) {
            Picked::One(at) => {
                job.layout.clone_from(&known[at].0);
                return Ok(());
            }
            Picked::Several(fitting) => {
                let fitting: Vec<&str> = fitting.iter().map(|&at| known[at].0.as_str()).collect();
                format!("`{line}` fits {}. Type more of it.", one_of(&fitting))
            }
            Picked::Nothing => format!(
                "`{line}` is no vehicle here. Type a word before a colon, or its number, 1 to {}.",
                known.len()
            ),
        };
        let mut page = desk.page();
        page.para(&again);
        desk.put(page.text())?;
    }
}

struct Trace<'a> {
    vehicle: &'a Vehicle<'a>,
    waiting: f64,
    job: JobFile,
    path: Option<PathBuf>,
    role: Role,
    shown: BTreeSet<CautionId>,
    skipped: BTreeSet<TaskId>,
    /// The entries of the last line that was taken.
    last: Vec<usize>,
}

impl<'a> Trace<'a> {
    fn case(&self) -> Result<Case<'a>, Failure> {
        self.vehicle
            .case(&self.job, self.waiting)
            .map_err(|found| problems(&found))
    }

    fn save(&self) -> Result<(), Failure> {
        match &self.path {
            Some(path) => Ok(Store::save(path, &self.job.write())?),
            None => Ok(()),
        }
    }

    /// Proposes, asks, takes what is typed, tells what changed; until the user stops.
    fn lead(&mut self, desk: &mut Desk<'_>) -> Result<bool, Failure> {
        let mut page = desk.page();
        page.heading(&format!(
            "{}: {}",
            self.vehicle.layout.named.name, self.job.complaint
        ));
        page.para(
            "Type the word before the colon, its beginning or its number. Enter leaves a question out, `help` shows what else you can type.",
        );
        let case = self.case()?;
        page.para(&format!(
            "Taken as it stands now: {}. Not so? Type for example `{}`.",
            set_up_text(&case),
            set_up_hint(&case)
        ));
        if self.path.is_none() {
            page.para("Nothing is saved: name a job file to keep this job.");
        }
        desk.put(page.text())?;
        let mut told: Option<Verdict> = None;
        loop {
            let case = self.case()?;
            let mut page = desk.page();
            for &block in &case.blocks {
                let block = &case.rules.blocks[block];
                page.block(&format!(
                    "{}. {} Until: {}. [cleared {}]",
                    block.named.name, block.says, block.until, block.named.id
                ));
            }
            // Questions of the complaint come first, in the order of the rules.
            let left: Vec<Asked> = open_intake(&case)
                .into_iter()
                .filter(|asked| !self.skipped.contains(&asked.task))
                .collect();
            if let Some(asked) = left.first() {
                let ranking = Ranking::of(&case, &Belief::of(&case, &[])?)?;
                let all = intake_count(&case);
                let number = all + 1 - left.len().min(all);
                page.blank();
                let before = format!("Question {number} of {all}: ");
                options_text(&mut page, &case, asked, &before);
                desk.put(page.text())?;
                if !self.answers(desk, &case, asked, &ranking, None)? {
                    return Ok(true);
                }
                continue;
            }
            let (proposals, belief) = Proposals::of(&case)?;
            let ranking = Ranking::of(&case, &belief)?;
            let verdict = Verdict::of(&case, &ranking, &belief, &proposals)?;
            if told.as_ref() != Some(&verdict) {
                verdict_text(&mut page, &case, &verdict);
            }
            told = Some(verdict);
            let best = proposals
                .checks
                .iter()
                .find(|check| !self.skipped.contains(&check.asked.task) && check.rate > 0.0);
            ranking_text(&mut page, &case, &ranking, 3);
            let Some(best) = best else {
                page.heading("Nothing left to check here");
                desk.put(page.text())?;
                return Ok(true);
            };
            proposal_text(
                &mut page,
                &case,
                best,
                &mut self.shown,
                opens_steps(self.role),
            );
            options_text(&mut page, &case, &best.asked, "");
            desk.put(page.text())?;
            if !self.answers(desk, &case, &best.asked, &ranking, Some((best, &proposals)))? {
                return Ok(true);
            }
        }
    }

    /// Takes lines until one changes the job; false when the user stops.
    fn answers(
        &mut self,
        desk: &mut Desk<'_>,
        case: &Case<'_>,
        best: &Asked,
        ranking: &Ranking,
        offer: Option<(&Proposal, &Proposals)>,
    ) -> Result<bool, Failure> {
        loop {
            desk.put("> ")?;
            let Some(line) = desk.line()? else {
                self.part(desk, case, ranking)?;
                return Ok(false);
            };
            let mut page = desk.page();
            let entries = match read(&line) {
                Line::Stop => {
                    self.part(desk, case, ranking)?;
                    return Ok(false);
                }
                Line::Nothing if case.rules.checks[case.graph.tasks[best.task].check].intake => {
                    self.skipped.insert(best.task);
                    return Ok(true);
                }
                Line::Nothing => {
                    page.para("Type one of the answers, `can't tell`, `skip` or `help`.");
                    desk.put(page.text())?;
                    continue;
                }
                Line::Skip => {
                    self.skipped.insert(best.task);
                    return Ok(true);
                }
                Line::Enough => {
                    let open = open_intake(case);
                    let left = open.iter().map(|asked| asked.task);
                    let before = self.skipped.len();
                    self.skipped.extend(left);
                    if self.skipped.len() > before {
                        return Ok(true);
                    }
                    page.para("There are no questions left. `quit` stops here.");
                    desk.put(page.text())?;
                    continue;
                }
                Line::Help => {
                    help_text(&mut page);
                    desk.put(page.text())?;
                    continue;
                }
                Line::How => {
                    match offer {
                        Some((proposal, _)) => {
                            proposal_text(&mut page, case, proposal, &mut self.shown, true);
                        }
                        None => page
                            .para("There is nothing to do for this one: ask, and type the answer."),
                    }
                    desk.put(page.text())?;
                    continue;
                }
                Line::Rank => {
                    ranking_text(&mut page, case, ranking, 12);
                    desk.put(page.text())?;
                    continue;
                }
                Line::Next => {
                    match offer {
                        Some((_, proposals)) => {
                            next_page(&mut page, case, proposals, 8, &self.skipped);
                        }
                        None => page.para(
                            "First the questions of the complaint. Enter leaves one out, `enough` ends them.",
                        ),
                    }
                    desk.put(page.text())?;
                    continue;
                }
                Line::Log => {
                    log_text(&mut page, case, &self.job);
                    desk.put(page.text())?;
                    continue;
                }
                Line::Why(named) => {
                    match super::why::named_cause(case, ranking, named.as_deref()) {
                        Ok(cause) => why_text(&mut page, case, &Explanation::of(case, cause)?),
                        Err(Failure::Told(text)) => page.para(&text),
                        Err(other) => return Err(other),
                    }
                    desk.put(page.text())?;
                    continue;
                }
                Line::Withdraw(Some(number)) => vec![Entry::Withdrawn(number)],
                Line::Withdraw(None) if self.job.log.is_empty() => {
                    page.para("Nothing has been noted yet.");
                    desk.put(page.text())?;
                    continue;
                }
                Line::Withdraw(None) if self.last.is_empty() => {
                    vec![Entry::Withdrawn(self.job.log.len())]
                }
                Line::Withdraw(None) => self.last.iter().copied().map(Entry::Withdrawn).collect(),
                Line::SetUpUnclear(text) => {
                    page.para(&set_up_refused(case, &text));
                    desk.put(page.text())?;
                    continue;
                }
                Line::SetUp(values) => vec![Entry::SetUp(values)],
                Line::Off(covers) => vec![Entry::CoversOff(covers)],
                Line::On(covers) => vec![Entry::CoversOn(covers)],
                Line::Cleared(block) => vec![Entry::Cleared(block)],
                Line::Note(text) => vec![Entry::Note(text)],
                Line::Confirmed(named) => vec![certain(&named, true)],
                Line::RuledOut(named) => vec![certain(&named, false)],
                Line::Zones(groups) => match zone_entries(case, best, &groups) {
                    Ok(entries) => entries,
                    Err(text) => {
                        page.para(&text);
                        desk.put(page.text())?;
                        continue;
                    }
                },
                Line::Answer(said) => match understood(case, best, said) {
                    Ok(said) => {
                        let said = self.later_signs(desk, case, best.task, said)?;
                        uncovered(case, best.task)
                            .into_iter()
                            .chain([Entry::Found(found(&task_id(case, best.task), &said))])
                            .collect()
                    }
                    Err(text) => {
                        page.para(&format!("{text} Nothing was noted."));
                        desk.put(page.text())?;
                        continue;
                    }
                },
                Line::Finding(check, said) => {
                    if let Ok(typed) = typed_finding(&format!("{check}={}", said.answer)) {
                        vec![Entry::Found(Found {
                            check: typed.check,
                            at: typed.at,
                            ..found(&check, &said)
                        })]
                    } else {
                        page.para("Write CHECK@PLACE = ANSWER. Nothing was noted.");
                        desk.put(page.text())?;
                        continue;
                    }
                }
            };
            if self.take(desk, entries, ranking)? {
                return Ok(true);
            }
        }
    }

    /// Asks for the later signs of a check, once its first has an answer, as far as they can
    /// still matter.
    fn later_signs(
        &self,
        desk: &mut Desk<'_>,
        case: &Case<'_>,
        task: TaskId,
        mut said: Said,
    ) -> Result<Said, Failure> {
        let Some(check) = several(case, task).filter(|check| first_only(check, &said)) else {
            return Ok(said);
        };
        for sign in 1..check.signs.len() {
            let mut so_far = self.job.clone();
            let noted = Entry::Found(found(&task_id(case, task), &said));
            so_far
                .log
                .extend(uncovered(case, task).into_iter().map(Into::into));
            so_far.log.push(noted.into());
            let trial = self.vehicle.case(&so_far, self.waiting);
            if !matters(&trial.map_err(|found| problems(&found))?, task, sign)? {
                continue;
            }
            let mut page = desk.page();
            sign_text(&mut page, &check.signs[sign]);
            desk.put(page.text())?;
            if let Some((at, more)) = sign_answer(desk, check, sign)? {
                let of = &check.signs[sign];
                let id = &of.answers[at].id;
                said.answer = format!("{}, {}={id}", said.answer, of.named.id);
                said.sure = more.sure.or(said.sure);
                said.seen = more.seen.or(said.seen);
            }
        }
        Ok(said)
    }

    /// Adds entries to the log if they can be understood; tells what they changed.
    fn take(
        &mut self,
        desk: &mut Desk<'_>,
        entries: Vec<Entry>,
        before: &Ranking,
    ) -> Result<bool, Failure> {
        let kept = self.job.log.len();
        self.job.log.extend(entries.into_iter().map(Into::into));
        let after = self.vehicle.case(&self.job, self.waiting);
        let mut page = desk.page();
        let taken = match after {
            Ok(case) => {
                let belief = Belief::of(&case, &[]);
                let ranking = belief.and_then(|belief| Ranking::of(&case, &belief));
                match ranking {
                    Ok(ranking) => {
                        self.save()?;
                        changes_text(&mut page, &case, before, &ranking);
                        covered_text(&mut page, &case, kept);
                        true
                    }
                    Err(error) => {
                        page.para(&error.to_string());
                        false
                    }
                }
            }
            Err(found) => {
                found.iter().for_each(|problem| page.para(&short(problem)));
                false
            }
        };
        if taken {
            self.last = (kept + 1..=self.job.log.len()).collect();
        } else {
            self.job.log.truncate(kept);
            page.para("Nothing was noted. Type it again, or `help`.");
        }
        desk.put(page.text())?;
        Ok(taken)
    }

    /// Last words: how it stands, and how to go on.
    fn part(&self, desk: &mut Desk<'_>, case: &Case<'_>, ranking: &Ranking) -> Result<(), Failure> {
        let mut page = desk.page();
        ranking_text(&mut page, case, ranking, 5);
        if let Some(path) = &self.path {
            page.para(&format!(
                "Saved. Go on with: seepwise trace {}",
                path.display()
            ));
        }
        desk.put(page.text())
    }
}

/// How many questions the complaint has on this vehicle.
fn intake_count(case: &Case<'_>) -> usize {
    let tasks = case.graph.tasks.iter();
    tasks
        .filter(|task| case.rules.checks[task.check].intake)
        .count()
}

fn help_text(page: &mut Page) {
    let wide = HELP.iter().map(|(typed, _)| typed.len()).max();
    let wide = wide.unwrap_or_default();
    for (typed, does) in HELP {
        page.item("", &format!("{typed:wide$}  {does}"));
    }
}

/// What to type after `now`, where what was typed names no facet.
fn set_up_refused(case: &Case<'_>, typed: &str) -> String {
    let facets = case.rules.facets.iter();
    let fits: Vec<String> = facets
        .flat_map(|facet| {
            let values = facet.values.iter();
            let same = values.filter(|value| value.named.id == typed.trim());
            same.map(|value| format!("`now {}={}`", facet.named.id, value.named.id))
        })
        .collect();
    let write = if fits.is_empty() {
        let facets = case.rules.facets.iter();
        let known: Vec<String> = facets
            .map(|facet| {
                let values = facet.values.iter().map(|value| value.named.id.as_str());
                format!(
                    "{}={}",
                    facet.named.id,
                    values.collect::<Vec<_>>().join("/")
                )
            })
            .collect();
        format!(
            "Write FACET=VALUE after `now`, for example `{}`. There are {}.",
            set_up_hint(case),
            known.join(", ")
        )
    } else {
        let fits: Vec<&str> = fits.iter().map(String::as_str).collect();
        format!("Write {}.", one_of(&fits))
    };
    format!("{write} Nothing was noted.")
}

/// A problem with what was typed, without the number of an entry that was never made.
fn short(problem: &JobProblem) -> String {
    match &problem.help {
        Some(help) => format!("{}; {help}.", problem.message),
        None => format!("{}.", problem.message),
    }
}

/// Says which looks just noted went to places behind a cover that is on.
fn covered_text(page: &mut Page, case: &Case<'_>, kept: usize) {
    let new = case.found.iter().filter(|found| found.entry > kept);
    let covered = new.filter_map(|found| {
        let task = &case.graph.tasks[found.task?];
        Some((task.part?, task.cover_on?))
    });
    let mut told = BTreeSet::new();
    for (part, cover) in covered.take(3) {
        if told.insert(cover) {
            let cover = &case.layout.covers[cover].named;
            page.para(&format!(
                "{} lies behind {}: taken as seen with it on. If it is off, type `undo`, then `off {}`, then your line again.",
                place_name(case, part),
                cover.name,
                cover.id
            ));
        }
    }
}

/// Whether only the first of a check's signs is answered.
fn first_only(check: &Check, said: &Said) -> bool {
    let sign = &check.signs[0].named.id;
    let rest = said.answer.strip_prefix(sign.as_str());
    rest.is_some_and(|rest| rest.starts_with('=')) && !said.answer.contains(',')
}

/// The answer to a later sign of a check; none if it is left out.
fn sign_answer(
    desk: &mut Desk<'_>,
    check: &Check,
    sign: usize,
) -> Result<Option<(usize, Said)>, Failure> {
    let answers = answers_of(check, sign);
    let own = format!("{}=", check.signs[sign].named.id);
    loop {
        desk.put("> ")?;
        let Some(line) = desk.line()? else {
            return Ok(None);
        };
        let said = match read(&line) {
            Line::Nothing | Line::Skip => return Ok(None),
            Line::Answer(said) if said.answer == "cant_tell" => return Ok(None),
            Line::Answer(said) => said,
            _ => Said::default(),
        };
        let typed = said.answer.strip_prefix(&own).unwrap_or(&said.answer);
        if let Picked::One(at) = pick(&answers, typed) {
            return Ok(Some((at, said)));
        }
        let ids: Vec<&str> = answers.iter().map(|(id, _)| id.as_str()).collect();
        let mut page = desk.page();
        page.para(&format!("Type {}; Enter leaves it out.", one_of(&ids)));
        desk.put(page.text())?;
    }
}

/// A check and what was said of it.
fn found(task: &str, said: &Said) -> Found {
    let (check, at) = task
        .split_once('@')
        .map_or((task, None), |(check, at)| (check, Some(at.to_owned())));
    let sure = match said.sure {
        Some("fairly") => Sure::Fairly,
        Some("guess") => Sure::Guess,
        _ => Sure::Sure,
    };
    let seen = match said.seen {
        Some("in part") => Seen::InPart,
        Some("not") => Seen::Not,
        _ => Seen::Whole,
    };
    Found {
        check: check.to_owned(),
        at,
        answer: AnswerGiven::One(said.answer.clone()),
        sure,
        seen,
        ..Found::default()
    }
}

/// `FAULT@PLACE` as an entry.
fn certain(named: &str, confirmed: bool) -> Entry {
    let (cause, at) = named.split_once('@').map_or((named, None), |(cause, at)| {
        (cause, Some(at.trim().to_owned()))
    });
    let cause = cause.trim().to_owned();
    if confirmed {
        Entry::Confirmed { cause, at }
    } else {
        Entry::RuledOut { cause, at }
    }
}
