//! `trace`: leads from the complaint to the leak, one check at a time.
//!
//! Lines come from a terminal or a pipe. After each entry the job is saved, if it has a file.

mod line;

use std::collections::BTreeSet;
use std::path::Path;

use crate::advise::{Account, Belief, Case, Proposals, Ranking, Verdict, open_intake};
use crate::cli::Desk;
use crate::cli::args::{Args, TraceArgs};
use crate::cli::ask::{Line, read};
use crate::cli::choose::choose_layout;
use crate::cli::entries::{COMMENTS_LOST, covered_text, short};
use crate::cli::failure::Failure;
use crate::cli::job::standing;
use crate::cli::set_up::{never_words, set_up_hint, set_up_text};
use crate::cli::stories::joint_text;
use crate::cli::story::step_words;
use crate::cli::trace::line::{AskedNow, Reaction, help_text, meant};
use crate::cli::world::{Vehicle, World, job_problems, opens_steps, problems, read_job};
use crate::graph::Asked;
use crate::ids::{BlockId, CautionId, TaskId};
use crate::job::{Entry, JobFile, Kept, KeptJob, Role};
use crate::show::{
    Page, account_text, changes_text, options_text, proposal_text, ranking_text, verdict_text,
};

pub(super) fn run(desk: &mut Desk<'_>, args: &Args, of: &TraceArgs) -> Result<bool, Failure> {
    let world = World::load(args, desk.surroundings)?;
    let begun = of.job.as_ref().is_some_and(|path| path.exists());
    let kept = (of.job.as_deref()).map(KeptJob::of).transpose()?;
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
    if !begun {
        job.complaint = complaint(desk)?;
        job.title.clone_from(&job.complaint);
    }
    let waiting = world.waiting_counts(of.hurry.as_deref())?;
    let mut trace = Trace {
        vehicle: &vehicle,
        waiting,
        job,
        kept,
        comments_lost: false,
        role: world.shop.role,
        shown: BTreeSet::new(),
        skipped: BTreeSet::new(),
        left_out: BTreeSet::new(),
        told_blocks: BTreeSet::new(),
        last: Vec::new(),
    };
    let case = vehicle.case(&trace.job, waiting);
    let case = case.map_err(|found| job_problems(&found, trace.path(), desk.surroundings))?;
    trace.left_out = left_out(&case);
    if let Some(entry) = case.closed {
        return Err(Failure::usage(format!(
            "this job was closed in entry {entry}; to go on with it, add `- {{withdrawn: {entry}}}` to its log"
        )));
    }
    trace.save()?;
    trace.lead(desk)
}

impl Desk<'_> {
    /// The next line, without its end; `None` at the end of the input.
    pub(super) fn line(&mut self) -> Result<Option<String>, Failure> {
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

struct Trace<'a> {
    vehicle: &'a Vehicle<'a>,
    waiting: f64,
    job: JobFile,
    kept: Option<KeptJob>,
    /// Whether comments of the file could not be kept, which is told at the end.
    comments_lost: bool,
    role: Role,
    shown: BTreeSet<CautionId>,
    skipped: BTreeSet<TaskId>,
    /// Questions of the complaint that an earlier session left out: they come where they are worth their time.
    left_out: BTreeSet<TaskId>,
    /// Blocks that are up and were told in full.
    told_blocks: BTreeSet<BlockId>,
    /// The entries of the last line that was taken.
    last: Vec<usize>,
}

impl<'a> Trace<'a> {
    fn case(&self) -> Result<Case<'a>, Failure> {
        let case = self.vehicle.case(&self.job, self.waiting);
        let mut case = case.map_err(|found| problems(&found))?;
        // So that others are weighed in their place.
        case.passed_over.extend(&self.skipped);
        Ok(case)
    }

    fn save(&mut self) -> Result<(), Failure> {
        match &mut self.kept {
            Some(kept) => {
                self.comments_lost |= kept.save(&self.job)? == Kept::Entries;
                Ok(())
            }
            None => Ok(()),
        }
    }

    /// The blocks that are up: in full the first time, in a line before each check, and not at all while
    /// the owner is asked.
    fn blocks_text(&mut self, page: &mut Page, case: &Case<'_>, at_work: bool) {
        for &up in &case.blocks {
            let block = &case.rules.blocks[up];
            if self.told_blocks.insert(up) {
                page.block(&format!(
                    "{}. {} Until: {}. [cleared {}]",
                    block.named.name, block.says, block.until, block.named.id
                ));
            } else if at_work {
                page.block(&format!(
                    "still: {}. [cleared {}]",
                    block.named.name, block.named.id
                ));
            }
        }
        self.told_blocks.retain(|told| case.blocks.contains(told));
    }

    fn path(&self) -> Option<&Path> {
        self.kept.as_ref().map(KeptJob::path)
    }

    /// Proposes, asks, takes what is typed, tells what changed; until the user stops.
    fn lead(&mut self, desk: &mut Desk<'_>) -> Result<bool, Failure> {
        let mut page = desk.page();
        let vehicle = &self.vehicle.layout.named.name;
        page.heading(&match self.job.complaint.as_str() {
            "" => vehicle.clone(),
            complaint => format!("{vehicle}: {complaint}"),
        });
        page.para(
            "Type the word before the colon, its beginning or its number. Enter leaves a question out, `help` shows what else you can type.",
        );
        let case = self.case()?;
        page.para(&format!(
            "Taken as it stands now: {}. Not so? Type for example `{}`.",
            set_up_text(&case),
            set_up_hint(&case)
        ));
        if let Some(standing) = standing(&self.job) {
            page.para(&standing);
        }
        if !self.left_out.is_empty() {
            page.para("Questions of the complaint that you left out come again only where they tell most for their time.");
        }
        if self.kept.is_none() {
            page.para("Nothing is saved: name a job file to keep this job.");
        }
        desk.put(page.text())?;
        let mut told: Option<Verdict> = None;
        loop {
            let case = self.case()?;
            let mut page = desk.page();
            // Questions of the complaint come first, in the order of the rules.
            let mut left: Vec<Asked> = open_intake(&case);
            left.retain(|asked| !self.left_out.contains(&asked.task));
            self.blocks_text(&mut page, &case, left.is_empty());
            if let Some(asked) = left.first() {
                let ranking = Ranking::of(&case, &Belief::of(&case, &[])?)?;
                let all = intake_count(&case);
                let number = all + 1 - left.len().min(all);
                page.blank();
                let before = format!("Question {number} of {all}: ");
                options_text(&mut page, &case, asked, &before);
                desk.put(page.text())?;
                let now = AskedNow {
                    case: &case,
                    best: asked,
                    ranking: &ranking,
                    offer: None,
                };
                if !self.answers(desk, &now)? {
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
            let best = proposals.checks.iter().find(|check| check.worth_doing());
            ranking_text(&mut page, &case, &ranking, 3);
            let Some(best) = best else {
                joint_text(&mut page, &case, &ranking)?;
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
            let now = AskedNow {
                case: &case,
                best: &best.asked,
                ranking: &ranking,
                offer: Some((best, &proposals)),
            };
            if !self.answers(desk, &now)? {
                return Ok(true);
            }
        }
    }

    /// Takes lines until one changes the job; false when the user stops.
    fn answers(&mut self, desk: &mut Desk<'_>, now: &AskedNow<'_>) -> Result<bool, Failure> {
        loop {
            desk.put("> ")?;
            let line = match desk.line()? {
                Some(line) => meant(now.case, now.best, read(&line)),
                None => Line::Stop,
            };
            match self.react(desk, now, line)? {
                Reaction::Stop => {
                    self.part(desk, now.case, now.ranking)?;
                    return Ok(false);
                }
                Reaction::GoOn => return Ok(true),
                Reaction::Say(text) => desk.put(&text)?,
                Reaction::Note(entries) => {
                    if self.take(desk, entries, now.ranking)? {
                        return Ok(true);
                    }
                }
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
        let taken_back = self.taken_back(&entries)?;
        let told = |entry: &Entry| matches!(entry, Entry::SetUp(_));
        let stands_so = entries.iter().any(told);
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
                        if let Some(never) = never_words(&case).filter(|_| stands_so) {
                            page.block(&never);
                        }
                        for words in taken_back.iter().chain(&measured_words(&case, kept)) {
                            page.para(words);
                        }
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
                for problem in &found {
                    page.para(&short(problem));
                }
                false
            }
        };
        if taken {
            self.last = (kept + 1..=self.job.log.len()).collect();
        } else {
            self.job.log.truncate(kept);
            page.para("Nothing was noted.");
        }
        desk.put(page.text())?;
        Ok(taken)
    }

    /// What is withdrawn, in words.
    fn taken_back(&self, entries: &[Entry]) -> Result<Vec<String>, Failure> {
        let mut taken_back = Vec::new();
        for entry in entries {
            let Entry::Withdrawn(number) = entry else {
                continue;
            };
            let logged = number.checked_sub(1).and_then(|at| self.job.log.get(at));
            if let Some(logged) = logged {
                let words = step_words(&self.case()?, *number, logged);
                taken_back.push(format!("Taken back: {words}."));
            }
        }
        Ok(taken_back)
    }

    /// Last words: how it stands, and how to go on.
    fn part(&self, desk: &mut Desk<'_>, case: &Case<'_>, ranking: &Ranking) -> Result<(), Failure> {
        let mut page = desk.page();
        ranking_text(&mut page, case, ranking, 5);
        joint_text(&mut page, case, ranking)?;
        if let Some(path) = self.path() {
            page.para(&format!(
                "Saved. Go on with: seepwise trace {}",
                path.display()
            ));
            if self.comments_lost {
                page.para(COMMENTS_LOST);
            }
        }
        desk.put(page.text())
    }
}

/// What a hold that was measured says: above all where it can't tell.
fn measured_words(case: &Case<'_>, kept: usize) -> Vec<String> {
    let measured = case.measured.iter().map(|hold| hold.entry);
    let new: Vec<usize> = measured.filter(|entry| *entry > kept).collect();
    let found = case.found.iter().filter(|found| new.contains(&found.entry));
    found
        .map(|found| {
            let mut letters = found.words.chars();
            let first = letters.next().map(|first| first.to_uppercase().to_string());
            format!("{}{}.", first.unwrap_or_default(), letters.as_str())
        })
        .collect()
}

/// The complaint; what can be typed is told first to whoever asks for it.
fn complaint(desk: &mut Desk<'_>) -> Result<String, Failure> {
    loop {
        desk.put("What is the complaint, in the owner's words? (Enter to leave it)\n> ")?;
        let line = desk.line()?.unwrap_or_default();
        if read(&line) != Line::Help {
            return Ok(line);
        }
        let mut page = desk.page();
        page.para(
            "Type a sentence, for example: It drinks coolant and I see no leak. It is kept with the job as you write it. The questions come next; there you can type:",
        );
        help_text(&mut page);
        desk.put(page.text())?;
    }
}

/// Open questions of the complaint that come before one that was answered; all of them once a check was done.
fn left_out(case: &Case<'_>) -> BTreeSet<TaskId> {
    let told = case.found.iter().filter_map(|found| found.task);
    let is_intake = |task: &TaskId| case.rules.checks[case.graph.tasks[*task].check].intake;
    let (intake, checks): (Vec<TaskId>, Vec<TaskId>) = told.partition(is_intake);
    let last = intake.into_iter().max();
    let open = open_intake(case).into_iter().map(|asked| asked.task);
    open.filter(|&task| !checks.is_empty() || last.is_some_and(|last| task < last))
        .collect()
}

/// How many questions the complaint has on this vehicle.
fn intake_count(case: &Case<'_>) -> usize {
    let tasks = case.graph.tasks.iter();
    tasks
        .filter(|task| case.rules.checks[task.check].intake)
        .count()
}
