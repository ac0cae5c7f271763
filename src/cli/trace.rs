//! `trace`: leads from the complaint to the leak, one check at a time.
//!
//! Lines come from a terminal or a pipe. After each entry the job is saved, if it has a file.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use crate::advise::{
    Account, Belief, Case, Explanation, Proposal, Proposals, Ranking, Verdict, open_intake,
};
use crate::cli::Desk;
use crate::cli::args::{Args, TraceArgs};
use crate::cli::ask::{Line, Said, read};
use crate::cli::failure::Failure;
use crate::cli::world::{Vehicle, World, opens_steps, problems, read_job, rendered, typed_finding};
use crate::graph::Asked;
use crate::ids::{CautionId, TaskId};
use crate::job::{AnswerGiven, Entry, Found, JobFile, Role, Seen, Store, Sure, uncovered};
use crate::rules::base::Scope;
use crate::show::{
    account_text, changes_text, next_page, options_text, proposal_text, ranking_text, task_id,
    verdict_text, why_text,
};
use crate::source::{SourceFile, Sources};

const HELP: &str = "Type an answer as it stands before the colon, with `fairly` or `guess` after it if you are not sure. \
Or: can't tell · can't do · not seen · ANSWER in part · skip (next best check) · how (the steps) · why [FAULT@PLACE] · rank · next · log · \
undo · withdraw N · CHECK@PLACE = ANSWER (any other finding) · dry: ZONE, ZONE; wet: PLACE (a whole zone with exceptions) · \
now temperature=hot (the set-up as it is) · off COVER · confirmed FAULT@PLACE · ruled out FAULT@PLACE · cleared BLOCK · note TEXT · {gauge: …} (a measurement, as in a job file) · quit";

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

fn choose_layout(desk: &mut Desk<'_>, world: &World, job: &mut JobFile) -> Result<(), Failure> {
    let mut page = desk.page();
    page.heading("Which vehicle?");
    for layout in &world.loaded.layouts {
        page.item("·", &format!("{}: {}", layout.named.id, layout.named.name));
    }
    desk.put(page.text())?;
    desk.put("> ")?;
    job.layout = desk
        .line()?
        .ok_or_else(|| Failure::usage("no vehicle was named; use --layout"))?;
    Ok(())
}

struct Trace<'a> {
    vehicle: &'a Vehicle<'a>,
    waiting: f64,
    job: JobFile,
    path: Option<PathBuf>,
    role: Role,
    shown: BTreeSet<CautionId>,
    skipped: BTreeSet<TaskId>,
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
        page.para("Enter skips a question, `help` tells what else you can type.");
        let now = self.case()?.set_up.values;
        let facets = self.vehicle.rules.facets.iter().zip(&now);
        let values: Vec<String> = facets
            .map(|(facet, &value)| format!("{}={}", facet.named.id, facet.values[value].named.id))
            .collect();
        page.para(&format!(
            "Taken as it stands now: {}. If one of these is wrong, type it as `now FACET=VALUE`.",
            values.join(", ")
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
            if let Some(asked) = open_intake(&case)
                .into_iter()
                .find(|asked| !self.skipped.contains(&asked.task))
            {
                let ranking = Ranking::of(&case, &Belief::of(&case, &[])?)?;
                page.blank();
                options_text(&mut page, &case, &asked);
                desk.put(page.text())?;
                if !self.answers(desk, &case, &asked, &ranking, None)? {
                    return Ok(true);
                }
                continue;
            }
            let (proposals, belief) = Proposals::of(&case)?;
            let ranking = Ranking::of(&case, &belief)?;
            let verdict = Verdict::of(&case, &ranking, &belief, &proposals)?;
            if told.as_ref() != Some(&verdict) {
                verdict_text(&mut page, &case, &verdict);
                if let Some(account) = Account::of(&case, verdict.named())? {
                    account_text(&mut page, &case, &account);
                }
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
            options_text(&mut page, &case, &best.asked);
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
                Line::Help => {
                    page.para(HELP);
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
                        Some((_, proposals)) => next_page(&mut page, case, proposals, 8),
                        None => page.para("First the questions of the complaint; Enter skips one."),
                    }
                    desk.put(page.text())?;
                    continue;
                }
                Line::Log => {
                    case.found
                        .iter()
                        .for_each(|found| page.item(&format!("{:>2}.", found.entry), &found.words));
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
                Line::Withdraw(number) => {
                    vec![Entry::Withdrawn(number.unwrap_or(self.job.log.len()))]
                }
                Line::SetUp(values) => vec![Entry::SetUp(values)],
                Line::Off(covers) => vec![Entry::CoversOff(covers)],
                Line::On(covers) => vec![Entry::CoversOn(covers)],
                Line::Cleared(block) => vec![Entry::Cleared(block)],
                Line::Note(text) => vec![Entry::Note(text)],
                Line::Written(text) => match written(&text, self.path.as_deref(), desk) {
                    Ok(entries) => entries,
                    Err(Failure::Told(text)) => {
                        desk.put(&format!("{}\n", text.trim_end()))?;
                        continue;
                    }
                    Err(other) => return Err(other),
                },
                Line::Confirmed(named) => vec![certain(&named, true)],
                Line::RuledOut(named) => vec![certain(&named, false)],
                Line::Zones(groups) => match Self::zone_entries(case, best, &groups) {
                    Ok(entries) => entries,
                    Err(text) => {
                        page.para(&text);
                        desk.put(page.text())?;
                        continue;
                    }
                },
                Line::Answer(said) => uncovered(case, best.task)
                    .into_iter()
                    .chain([Entry::Found(found(&task_id(case, best.task), &said))])
                    .collect(),
                Line::Finding(check, said) => {
                    if let Ok(typed) = typed_finding(&format!("{check}={}", said.answer)) {
                        vec![Entry::Found(Found {
                            check: typed.check,
                            at: typed.at,
                            ..found(&check, &said)
                        })]
                    } else {
                        page.para("Write CHECK@PLACE = ANSWER.");
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

    /// Adds entries to the log if they can be understood; tells what they changed.
    fn take(
        &mut self,
        desk: &mut Desk<'_>,
        entries: Vec<Entry>,
        before: &Ranking,
    ) -> Result<bool, Failure> {
        let kept = self.job.log.len();
        self.job.log.extend(entries.into_iter().map(Into::into));
        let after = self
            .vehicle
            .case(&self.job, self.waiting)
            .map_err(|found| problems(&found))
            .and_then(|case| {
                let ranking = Ranking::of(&case, &Belief::of(&case, &[])?)?;
                Ok((case, ranking))
            });
        let mut page = desk.page();
        let taken = match after {
            Ok((case, after)) => {
                self.save()?;
                changes_text(&mut page, &case, before, &after);
                true
            }
            Err(Failure::Told(text)) => {
                self.job.log.truncate(kept);
                page.para(&text);
                page.para("Nothing was noted. Type it again, or `help`.");
                false
            }
            Err(other) => return Err(other),
        };
        desk.put(page.text())?;
        Ok(taken)
    }

    /// A zone line as entries: zones as sweeps with their exceptions, places by themselves.
    fn zone_entries(
        case: &Case<'_>,
        best: &Asked,
        groups: &[(String, Vec<String>)],
    ) -> Result<Vec<Entry>, String> {
        let of = |task: TaskId| &case.rules.checks[case.graph.tasks[task].check];
        let sweep = match of(best.task).scope {
            Scope::Sweep(_) => Some(of(best.task)),
            _ => case
                .rules
                .checks
                .iter()
                .find(|check| matches!(check.scope, Scope::Sweep(_))),
        };
        let Some((sweep, Scope::Sweep(swept))) = sweep.map(|sweep| (sweep, &sweep.scope)) else {
            return Err("These rules have no look over a whole zone.".to_owned());
        };
        let zone = |name: &str| {
            case.layout
                .zones
                .iter()
                .position(|zone| zone.named.id == name)
        };
        let part = |name: &str| case.layout.parts.iter().find(|part| part.named.id == name);
        let mut entries: Vec<Found> = Vec::new();
        let zoned = |name: &str| {
            part(name)
                .and_then(|part| part.zone)
                .map(|zone| case.layout.zones[zone].named.id.clone())
        };
        for (answer, names) in groups {
            for name in names.iter().filter(|name| zone(name).is_some()) {
                entries.push(Found {
                    check: sweep.named.id.clone(),
                    at: Some(name.clone()),
                    answer: AnswerGiven::One(answer.clone()),
                    ..Found::default()
                });
            }
        }
        for (answer, names) in groups {
            for name in names.iter().filter(|name| zone(name).is_none()) {
                if part(name).is_none() {
                    return Err(format!(
                        "`{name}` is no zone or place of this vehicle; `seepwise layouts {}` lists them.",
                        case.layout.named.id
                    ));
                }
                let within = entries.iter_mut().find(|entry| {
                    entry.at.is_some() && entry.at == zoned(name) && entry.check == sweep.named.id
                });
                match (within, answer.as_str()) {
                    (Some(entry), "not seen") => entry.not_seen.push(name.clone()),
                    (Some(entry), "in part" | "seen in part") => entry.in_part.push(name.clone()),
                    (Some(entry), _) => entry.except.push((name.clone(), answer.clone())),
                    (None, "not seen") => {}
                    (None, _) => entries.push(Found {
                        check: case.rules.checks[*swept].named.id.clone(),
                        at: Some(name.clone()),
                        answer: AnswerGiven::One(answer.clone()),
                        ..Found::default()
                    }),
                }
            }
        }
        Ok(entries.into_iter().map(Entry::Found).collect())
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
