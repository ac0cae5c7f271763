//! Arguments as typed.

use std::path::PathBuf;

use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};

use crate::cli::args_measure::{CoolantArgs, HoldArgs, PortArgs, drawing};

/// Finds where an engine's coolant goes, one check at a time.
#[derive(Debug, Parser)]
#[command(
    name = "seepwise",
    version,
    about,
    arg_required_else_help = true,
    after_help = "Examples:\n  seepwise layouts\n  seepwise trace --layout crew_minibus my-job.yaml\n  seepwise replay scenarios/two_seeps.yaml\n\nHot coolant scalds and coolant is poison: read the cautions before each step."
)]
pub(super) struct Args {
    /// Use the rule base in this folder instead of the built-in one
    #[arg(long, global = true, value_name = "DIR")]
    pub rules: Option<PathBuf>,
    /// Print JSON for scripts
    #[arg(long, global = true)]
    pub json: bool,
    /// What to do
    #[command(subcommand)]
    pub command: Command,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Be led from the complaint to the leak, one check at a time
    Trace(TraceArgs),
    /// Run scenario or job files, print their story and compare it with what they expect
    Replay(ReplayArgs),
    /// How the causes stand
    Rank(RankArgs),
    /// What to check next, singly and bundled by set-up
    Next(NextArgs),
    /// Why a cause stands where it stands
    Why(WhyArgs),
    /// How your hunch stands against its rivals, what settles it, and whether to act on it now
    Hunch(HunchArgs),
    /// The few joint explanations that carry most of the probability
    Stories(StoriesArgs),
    /// How it would stand if a check had another answer
    WhatIf(WhatIfArgs),
    /// Review or show the rule base
    Rules(RulesArgs),
    /// The vehicles' layouts
    Layouts(LayoutsArgs),
    /// The repair sheet: work, parts, filling, cautions and the retest
    Sheet(SheetArgs),
    /// Whether the vehicle may leave, and what fits into the time left
    Release(ReleaseArgs),
    /// Close a job
    Job(JobArgs),
    /// Write the causal graph for other software
    Graph(GraphArgs),
    /// What this shop lacks and who works in it, kept once for all jobs
    Shop(ShopArgs),
    /// Pressure hold: from the gauge's readings to the leak; with --plan, how long to hold
    Hold(HoldArgs),
    /// Coolant: strength, freeze and boiling point, expansion, how much to drain and fill
    Coolant(CoolantArgs),
    /// Hose ports: whether pits make a channel under the clamp, and what to do
    Port(PortArgs),
    /// Find a planted leak on paper, and hear how you did; exit code 0 if you named it
    Practice(PracticeArgs),
}

/// Which case to look at: a job file, or a layout and findings.
#[derive(Debug, ClapArgs)]
pub(super) struct CaseArgs {
    /// A job or scenario file
    #[arg(value_name = "JOB")]
    pub job: Option<PathBuf>,
    #[command(flatten)]
    pub with: WithArgs,
}

/// What makes a case where there is no job file, or is added to one.
#[derive(Debug, Clone, ClapArgs)]
pub(super) struct WithArgs {
    /// The vehicle's layout, where there is no job file
    #[arg(long, value_name = "LAYOUT")]
    pub layout: Option<String>,
    /// A finding: CHECK[@PLACE]=ANSWER; may be given several times
    #[arg(long, value_name = "CHECK[@PLACE]=ANSWER")]
    pub found: Vec<String>,
    /// How waiting counts against work (see `rules show`); the first is the default
    #[arg(long, value_name = "WORD")]
    pub hurry: Option<String>,
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Example:\n  seepwise trace --layout water_tender tender-job.yaml\n\nType `help` at any time. Lines can come from a pipe as well."
)]
pub(super) struct TraceArgs {
    /// The job file: gone on with if it exists, else begun; without it nothing is saved
    #[arg(value_name = "JOB")]
    pub job: Option<PathBuf>,
    /// The vehicle's layout, for a new job
    #[arg(long, value_name = "LAYOUT")]
    pub layout: Option<String>,
    /// How waiting counts against work (see `rules show`)
    #[arg(long, value_name = "WORD")]
    pub hurry: Option<String>,
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Example:\n  seepwise replay scenarios/*.yaml\n\nExit code 1 if an expectation is missed."
)]
pub(super) struct ReplayArgs {
    /// Scenario or job files, or folders of them
    #[arg(value_name = "FILE", required = true)]
    pub files: Vec<PathBuf>,
    /// Print only one line for each scenario
    #[arg(long)]
    pub brief: bool,
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Examples:\n  seepwise rank my-job.yaml\n  seepwise rank --layout crew_minibus --found loss_reported=slow --json"
)]
pub(super) struct RankArgs {
    #[command(flatten)]
    pub case: CaseArgs,
    /// How many places to show
    #[arg(long, default_value_t = 8)]
    pub top: usize,
    /// Show the likeliest joint explanations too
    #[arg(long)]
    pub long: bool,
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Example:\n  seepwise next --layout crew_minibus --found loss_reported=slow --found puddle_seen=none"
)]
pub(super) struct NextArgs {
    #[command(flatten)]
    pub case: CaseArgs,
    /// How many checks to show
    #[arg(long, default_value_t = 8)]
    pub top: usize,
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Examples:\n  seepwise why my-job.yaml\n  seepwise why my-job.yaml pitted_port@lower_hose_rear\n  seepwise why --layout crew_minibus --found loss_reported=slow pump_seal\n\nWithout a cause: the likeliest one. Of one that stands low it says what spoke against it."
)]
pub(super) struct WhyArgs {
    /// A job or scenario file (not with --layout), then the cause: FAULT@PLACE, or a PLACE for its likeliest fault
    #[arg(value_name = "JOB | CAUSE")]
    pub words: Vec<String>,
    #[command(flatten)]
    pub with: WithArgs,
    /// The cause as well
    #[arg(long, value_name = "FAULT@PLACE")]
    pub cause: Option<String>,
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Examples:\n  seepwise hunch my-job.yaml pitted_port@lower_hose_rear\n  seepwise hunch my-job.yaml @radiator_core\n  seepwise hunch --layout crew_minibus --found loss_reported=slow heater core\n\nA place alone means any fault there. Loose wording is understood; where it fits several things they are listed (exit code 2)."
)]
pub(super) struct HunchArgs {
    /// A job or scenario file (not with --layout), then the hunch: FAULT@PLACE, @PLACE or plain words
    #[arg(value_name = "JOB | HUNCH", required = true)]
    pub words: Vec<String>,
    #[command(flatten)]
    pub with: WithArgs,
    /// Everything: each finding, answer and further check, also what takes long
    #[arg(long)]
    pub full: bool,
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Examples:\n  seepwise stories my-job.yaml\n  seepwise stories --layout crew_minibus --found loss_reported=slow --top 3"
)]
pub(super) struct StoriesArgs {
    #[command(flatten)]
    pub case: CaseArgs,
    /// Sets of single faults, not of places
    #[arg(long)]
    pub by_fault: bool,
    /// How many to tell
    #[arg(long, default_value_t = 5, value_parser = clap::value_parser!(u16).range(1..=50))]
    pub top: u16,
}

#[derive(Debug, ClapArgs)]
#[command(after_help = "Example:\n  seepwise sheet my-job.yaml")]
pub(super) struct SheetArgs {
    /// A job or scenario file
    #[arg(value_name = "JOB")]
    pub job: PathBuf,
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Examples:\n  seepwise release my-job.yaml\n  seepwise release my-job.yaml --needed-by 17:00 --now 14:30\n  seepwise release my-job.yaml --minutes 40\n\nExit code 1 if it must not leave."
)]
pub(super) struct ReleaseArgs {
    /// A job or scenario file
    #[arg(value_name = "JOB")]
    pub job: PathBuf,
    /// When it is needed, today
    #[arg(
        long,
        value_name = "HH:MM",
        requires = "now",
        conflicts_with = "minutes"
    )]
    pub needed_by: Option<String>,
    /// What the clock says now
    #[arg(long, value_name = "HH:MM", requires = "needed_by")]
    pub now: Option<String>,
    /// How many minutes are left
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=100_000))]
    pub minutes: Option<u32>,
    /// How waiting counts against work (see `rules show`)
    #[arg(long, value_name = "WORD")]
    pub hurry: Option<String>,
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Examples:\n  seepwise what-if my-job.yaml gas_test=gas\n  seepwise what-if my-job.yaml 4=dry\n  seepwise what-if --layout crew_minibus --found loss_reported=slow oil_look=oil=milky\n\nENTRY is the number of an entry in the job's log. The job itself stays as it is."
)]
pub(super) struct WhatIfArgs {
    /// A job or scenario file (not with --layout), then what is supposed: CHECK[@PLACE]=ANSWER or ENTRY=ANSWER
    #[arg(value_name = "JOB | ANSWER", required = true)]
    pub words: Vec<String>,
    #[command(flatten)]
    pub with: WithArgs,
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Examples:\n  seepwise rules review\n  seepwise rules show hose_end\n  seepwise rules show look_at_joint --rules my-rules"
)]
pub(super) struct RulesArgs {
    #[command(subcommand)]
    pub what: RulesCommand,
}

#[derive(Debug, Subcommand)]
pub(super) enum RulesCommand {
    /// Show every problem of all rule files at its line; exit code 1 if there are errors
    Review,
    /// Name the faults that the checks can hardly tell apart
    Twins(TwinsArgs),
    /// Draw jobs from the rules and see how well the leaks are found
    Drill(DrillArgs),
    /// Show the rule base, one kind of part, fault, check or condition, or the ids of a section
    #[command(
        after_help = "Examples:\n  seepwise rules show cold_hold\n  seepwise rules show spaces\n\nSections: attributes, blocks, cautions, checks, conditions, duties, facets,\ngathers, leak_kinds, occasions, spaces, tools, ways."
    )]
    Show {
        /// Its id, or the name of a section
        #[arg(value_name = "NAME")]
        name: Option<String>,
    },
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Examples:\n  seepwise practice crew_minibus --seed 4 --guess-first\n  seepwise practice water_tender --plant \"head gasket\"\n\nWhere the words fit several faults, the seed picks one of them.\nThe same seed plants the same leak. Lines may come from a pipe."
)]
pub(super) struct PracticeArgs {
    /// The layout
    #[arg(value_name = "LAYOUT")]
    pub layout: String,
    /// Seed of what is drawn
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Plant this fault (FAULT@PLACE, or in plain words) instead of any
    #[arg(long, value_name = "WORDS")]
    pub plant: Option<String>,
    /// Ask for a first suspicion before any check
    #[arg(long)]
    pub guess_first: bool,
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Examples:\n  seepwise rules twins crew_minibus --top 10\n  seepwise rules twins crew_minibus cap"
)]
pub(super) struct TwinsArgs {
    /// The layout
    #[arg(value_name = "LAYOUT")]
    pub layout: String,
    /// Only pairs that this place has a hand in
    #[arg(value_name = "PLACE")]
    pub place: Option<String>,
    /// How many pairs to show
    #[arg(long, default_value_t = 20)]
    pub top: usize,
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Examples:\n  seepwise rules drill crew_minibus --jobs 50\n  seepwise rules drill standby_generator --jobs 200 --rivals --json\n  seepwise rules drill crew_minibus --noise 0.5 --hidden-place --wrong-answers 5\n\nThe same seed gives the same jobs and figures, on any number of threads."
)]
pub(super) struct DrillArgs {
    /// The layout
    #[arg(value_name = "LAYOUT")]
    pub layout: String,
    /// How many jobs
    #[arg(long, default_value_t = 50, value_parser = clap::value_parser!(u32).range(1..=100_000))]
    pub jobs: u32,
    /// Seed of what is drawn
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Draw the vehicles from rules that are wrong: noise of this much on the log-odds of every base
    /// rate and strength
    #[arg(long, value_name = "LOG-ODDS", default_value_t = 0.0, value_parser = noise)]
    pub noise: f64,
    /// In each vehicle looks at one place, drawn at random, see nothing of its leaks
    #[arg(long)]
    pub hidden_place: bool,
    /// How many answers in a hundred are wrong
    #[arg(long, value_name = "PER CENT", default_value_t = 0.0, value_parser = per_cent)]
    pub wrong_answers: f64,
    /// Play the same jobs by other ways of choosing as well
    #[arg(long)]
    pub rivals: bool,
    /// Jobs on which the rival with a fixed checklist learns its order
    #[arg(long, default_value_t = 500, value_parser = clap::value_parser!(u32).range(1..=100_000))]
    pub learn: u32,
    /// How waiting counts against work (see `rules show`)
    #[arg(long, value_name = "WORD")]
    pub hurry: Option<String>,
    /// Keep the tool's own jobs as job files in this folder, to be replayed and traced
    #[arg(long, value_name = "DIR")]
    pub keep: Option<PathBuf>,
    /// Save a picture of chances given against what was so
    #[arg(long, value_name = "FILE.svg", value_parser = drawing)]
    pub svg: Option<PathBuf>,
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Examples:\n  seepwise layouts\n  seepwise layouts water_tender\n  seepwise layouts water_tender pump_seal\n  seepwise layouts water_tender --checks"
)]
pub(super) struct LayoutsArgs {
    /// Show this layout's places and covers
    #[arg(value_name = "LAYOUT")]
    pub layout: Option<String>,
    /// Show this place: how it is reached, its faults, and the checks that can be done there
    #[arg(value_name = "PLACE", requires = "layout")]
    pub place: Option<String>,
    /// Show all that can be asked and done on this layout, with the answers that a job file takes
    #[arg(long, requires = "layout", conflicts_with = "place")]
    pub checks: bool,
}

#[derive(Debug, ClapArgs)]
pub(super) struct JobArgs {
    #[command(subcommand)]
    pub what: JobCommand,
}

#[derive(Debug, Subcommand)]
pub(super) enum JobCommand {
    /// Close a job: it must be repaired and proved, or you say what stays open; exit code 1 if not
    Close(CloseArgs),
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Examples:\n  seepwise job close my-job.yaml\n  seepwise job close my-job.yaml --open \"owner takes it as it is, looks at the level weekly\"\n\nA closed job holds what was confirmed as its expectations: `seepwise replay` checks them."
)]
pub(super) struct CloseArgs {
    /// The job file
    #[arg(value_name = "JOB")]
    pub job: PathBuf,
    /// Why it is closed although something is left open
    #[arg(long, value_name = "TEXT")]
    pub open: Option<String>,
}

#[derive(Debug, ClapArgs)]
#[command(after_help = "Example:\n  seepwise graph standby_generator --format bif > generator.bif")]
pub(super) struct GraphArgs {
    /// The layout
    #[arg(value_name = "LAYOUT", required_unless_present = "job")]
    pub layout: Option<String>,
    /// The graph of a job instead, with the states since its repairs
    #[arg(long, value_name = "JOB", conflicts_with = "layout")]
    pub job: Option<PathBuf>,
    /// The format
    #[arg(long, value_enum, default_value_t = Format::Json)]
    pub format: Format,
}

/// Formats of the causal graph.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Format {
    /// Nodes, arrows and tables
    Json,
    /// For drawing
    Dot,
    /// Bayesian interchange format, for general libraries
    Bif,
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Examples:\n  seepwise shop\n  seepwise shop --lacks borescope --lacks uv_lamp --role technician\n  seepwise shop --cannot lift=raised"
)]
pub(super) struct ShopArgs {
    /// A tool that the shop lacks; may be given several times
    #[arg(long, value_name = "TOOL")]
    pub lacks: Vec<String>,
    /// A tool that it has after all
    #[arg(long, value_name = "TOOL")]
    pub has: Vec<String>,
    /// A set-up that it cannot make, FACET=VALUE
    #[arg(long, value_name = "FACET=VALUE")]
    pub cannot: Vec<String>,
    /// Who works: apprentice, technician or trainer
    #[arg(long, value_name = "ROLE")]
    pub role: Option<String>,
}

/// Noise on log-odds; three is a factor of twenty either way.
fn noise(text: &str) -> Result<f64, String> {
    within(text, 3.0)
}

fn per_cent(text: &str) -> Result<f64, String> {
    within(text, 100.0)
}

/// A number from 0 to `most`.
fn within(text: &str, most: f64) -> Result<f64, String> {
    (text.parse().ok())
        .filter(|number| (0.0..=most).contains(number))
        .ok_or_else(|| format!("write a number from 0 to {most}"))
}
