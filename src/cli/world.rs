//! What a command works on: the rule base, a vehicle, a job and the case that it makes.

use std::mem::ManuallyDrop;
use std::path::{Path, PathBuf};

use crate::advise::{Case, Shop, leave_out_the_densest};
use crate::cli::Surroundings;
use crate::cli::args::{Args, CaseArgs, WithArgs};
use crate::cli::failure::Failure;
use crate::graph::CausalGraph;
use crate::job::{
    AnswerGiven, Entry, Found, JobFile, JobProblem, LogReader, Role, ShopFile, Store,
};
use crate::notice::Notices;
use crate::notice::render::{Look, render_all};
use crate::rules::suggest::help_for;
use crate::rules::{self, Layout, Loaded, RuleBase};
use crate::source::{SourceId, Sources};

/// The rule base and the shop.
pub(super) struct World {
    /// What was loaded.
    pub loaded: Loaded,
    /// The shop's file, or an empty one.
    pub shop: ShopFile,
}

/// One vehicle with its graph.
pub(super) struct Vehicle<'a> {
    pub rules: &'a RuleBase,
    pub layout: &'a Layout,
    pub graph: CausalGraph,
    pub shop: Shop,
}

impl World {
    /// Loads the rule base and the shop's file.
    pub fn load(args: &Args, surroundings: &Surroundings) -> Result<Self, Failure> {
        let loaded = load_rules(args);
        if loaded.rules.is_none() {
            let text = rendered(&loaded.notices, &loaded.sources, surroundings);
            return Err(Failure::Told(format!(
                "{text}seepwise: the rule base has errors; mend them and try again"
            )));
        }
        Ok(Self {
            loaded,
            shop: read_shop(surroundings)?,
        })
    }

    /// The rules.
    pub fn rules(&self) -> Result<&RuleBase, Failure> {
        self.loaded
            .rules
            .as_ref()
            .ok_or_else(|| Failure::usage("the rule base has errors"))
    }

    /// A layout by its id.
    pub fn layout(&self, id: &str) -> Result<&Layout, Failure> {
        self.loaded.layout(id).ok_or_else(|| {
            let known: Vec<&str> = self
                .loaded
                .layouts
                .iter()
                .map(|layout| layout.named.id.as_str())
                .collect();
            let near = help_for(id, &known).map_or_else(String::new, |help| format!("; {help}"));
            Failure::usage(format!(
                "there is no layout `{id}`{near} (`seepwise layouts` lists them)"
            ))
        })
    }

    /// A vehicle by its layout's id.
    pub fn vehicle(&self, id: &str) -> Result<Vehicle<'_>, Failure> {
        let rules = self.rules()?;
        let layout = self.layout(id)?;
        let graph = CausalGraph::expand(rules, layout)?;
        Ok(Vehicle {
            rules,
            layout,
            graph,
            shop: self.shop.resolve(rules).map_err(|found| problems(&found))?,
        })
    }

    /// How much a minute of waiting counts, by the user's word for the hurry.
    pub fn waiting_counts(&self, hurry: Option<&str>) -> Result<f64, Failure> {
        let words = &self.rules()?.policy.waiting_counts;
        match hurry {
            None => Ok(words.first().map_or(0.1, |(_, counts)| *counts)),
            Some(word) => words
                .iter()
                .find(|(known, _)| known == word)
                .map(|(_, counts)| *counts)
                .ok_or_else(|| {
                    let known: Vec<&str> = words.iter().map(|(known, _)| known.as_str()).collect();
                    Failure::usage(format!(
                        "there is no hurry `{word}`; choose one of {}",
                        known.join(", ")
                    ))
                }),
        }
    }

    /// Hands the case that arguments name to `then`.
    pub fn with_case<T>(
        &self,
        surroundings: &Surroundings,
        of: &CaseArgs,
        then: impl FnOnce(&Case<'_>) -> Result<T, Failure>,
    ) -> Result<T, Failure> {
        let job = Self::job(surroundings, of)?;
        // The program ends next: to hand its memory back piece by piece would take longer.
        let vehicle = ManuallyDrop::new(self.vehicle(&job.layout)?);
        let waiting = self.waiting_counts(of.with.hurry.as_deref())?;
        let case = vehicle.case(&job, waiting);
        then(&case.map_err(|found| job_problems(&found, of.job.as_deref(), surroundings))?)
    }

    /// The job that arguments name: a file, or a layout and findings.
    pub fn job(surroundings: &Surroundings, of: &CaseArgs) -> Result<JobFile, Failure> {
        let mut job = match (&of.job, &of.with.layout) {
            (Some(path), None) => read_job(path, surroundings)?,
            (Some(path), Some(_)) => {
                return Err(Failure::usage(format!(
                    "name either the job file `{}` or --layout, not both",
                    path.display()
                )));
            }
            (None, Some(layout)) => JobFile {
                layout: layout.clone(),
                ..JobFile::default()
            },
            (None, None) => {
                return Err(Failure::usage(
                    "name a job file, or a vehicle with --layout (`seepwise layouts` lists them)",
                ));
            }
        };
        for found in &of.with.found {
            job.log.push(Entry::Found(typed_finding(found)?).into());
        }
        Ok(job)
    }
}

/// The case that words and options name, and the words that are left: without --layout the first
/// word is the job file.
pub(super) fn case_and_words(words: &[String], with: &WithArgs) -> (CaseArgs, Vec<String>) {
    let mut words = words.iter().cloned();
    let job = match with.layout {
        Some(_) => None,
        None => words.next().map(PathBuf::from),
    };
    let with = with.clone();
    (CaseArgs { job, with }, words.collect())
}

impl Vehicle<'_> {
    /// The case that a job makes of this vehicle.
    pub fn case(&self, job: &JobFile, waiting_counts: f64) -> Result<Case<'_>, Vec<JobProblem>> {
        case_of(&mut self.log_reader(waiting_counts), job)
    }

    /// Reads jobs on this vehicle, entry by entry.
    pub fn log_reader(&self, waiting_counts: f64) -> LogReader<'_> {
        let (rules, layout, graph) = (self.rules, self.layout, &self.graph);
        LogReader::new(rules, layout, graph, &self.shop, waiting_counts)
    }
}

/// The case of a job, as far as its findings can be worked out together.
pub(super) fn case_of<'a>(
    log: &mut LogReader<'a>,
    job: &JobFile,
) -> Result<Case<'a>, Vec<JobProblem>> {
    let mut case = log.read(job)?;
    leave_out_the_densest(&mut case);
    Ok(case)
}

/// The rule base that the arguments name, with its notices.
pub(super) fn load_rules(args: &Args) -> Loaded {
    args.rules
        .as_deref()
        .map_or_else(rules::load_embedded, rules::load_dir)
}

/// Several problems of a job, a line each.
pub(super) fn problems(problems: &[JobProblem]) -> Failure {
    let lines: Vec<String> = problems
        .iter()
        .map(|problem| format!("seepwise: {problem}"))
        .collect();
    Failure::Told(lines.join("\n"))
}

/// Problems of a job: at their lines, if it was read from a file.
pub(super) fn job_problems(
    found: &[JobProblem],
    path: Option<&Path>,
    surroundings: &Surroundings,
) -> Failure {
    match path {
        Some(path) => file_problems(found, path, surroundings),
        None => problems(found),
    }
}

/// Problems of a job that was read from a file: at their lines.
pub(super) fn file_problems(
    found: &[JobProblem],
    path: &Path,
    surroundings: &Surroundings,
) -> Failure {
    let mut sources = Sources::new();
    let mut notices = Notices::new();
    if let Ok(file) = Store::load(path) {
        sources.add(file);
    }
    for problem in found {
        match problem.notice() {
            Some(notice) if !sources.files().is_empty() => notices.push(notice),
            _ => return problems(found),
        }
    }
    Failure::Told(rendered(&notices, &sources, surroundings))
}

/// Reads a job file; its problems are shown at their lines.
pub(super) fn read_job(path: &Path, surroundings: &Surroundings) -> Result<JobFile, Failure> {
    let mut job = read_file(path, surroundings, JobFile::read)?;
    let folder = path.parent().unwrap_or(Path::new("."));
    job.attach(folder)
        .map_err(|found| file_problems(&found, path, surroundings))?;
    Ok(job)
}

fn read_shop(surroundings: &Surroundings) -> Result<ShopFile, Failure> {
    match surroundings.shop.as_ref().filter(|path| path.exists()) {
        Some(path) => read_file(path, surroundings, ShopFile::read),
        None => Ok(ShopFile::default()),
    }
}

pub(super) fn read_file<T>(
    path: &Path,
    surroundings: &Surroundings,
    read: impl FnOnce(SourceId, &Sources) -> Result<T, Notices>,
) -> Result<T, Failure> {
    let mut sources = Sources::new();
    let file = sources.add(Store::load(path)?);
    read(file, &sources)
        .map_err(|notices| Failure::Told(rendered(&notices, &sources, surroundings)))
}

/// Notices as this terminal shows them.
pub(super) fn rendered(
    notices: &Notices,
    sources: &Sources,
    surroundings: &Surroundings,
) -> String {
    let look = Look {
        colour: surroundings.colour,
        width: surroundings.width,
    };
    render_all(notices, sources, look)
}

/// `CHECK[@PLACE]=ANSWER` as typed.
pub(super) fn typed_finding(text: &str) -> Result<Found, Failure> {
    let wrong = || {
        Failure::usage(format!(
            "`{text}` is no finding: write CHECK=ANSWER or CHECK@PLACE=ANSWER"
        ))
    };
    let (check, answer) = text.split_once('=').ok_or_else(wrong)?;
    let (check, at) = match check.split_once('@') {
        Some((check, at)) => (check.trim(), Some(at.trim().to_owned())),
        None => (check.trim(), None),
    };
    if check.is_empty() || answer.trim().is_empty() {
        return Err(wrong());
    }
    let answer = AnswerGiven::One(answer.trim().to_owned());
    Ok(Found {
        check: check.to_owned(),
        at,
        answer,
        ..Found::default()
    })
}

/// Whether the steps of a check are opened without asking: not for the experienced.
pub(super) fn opens_steps(role: Role) -> bool {
    role != Role::Technician
}
