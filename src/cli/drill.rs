//! `rules drill`: how well ways of choosing find leaks on vehicles drawn from the model.

use std::path::Path;

use serde_json::{Value, json};

use crate::cli::Desk;
use crate::cli::args::{Args, DrillArgs};
use crate::cli::failure::Failure;
use crate::cli::world::{Vehicle, World};
use crate::ids::PartId;
use crate::job::Store;
use crate::show::{Page, time_text};
use crate::train::{
    Drill, Drilled, End, Field, Policy, Share, Strain, Tally, Truth, learn_checklist,
};

/// Jobs on which the fixed checklist is learned, by their seed's distance from the drill's.
const CHECKLIST_SEED: u64 = 7_919;
/// What the names of kept jobs begin with.
const DRAWN: &str = "drawn-";

/// So many tasks of the checklist are shown.
const LISTED: usize = 12;

pub(super) fn drill(desk: &mut Desk<'_>, args: &Args, of: &DrillArgs) -> Result<bool, Failure> {
    let world = World::load(args, desk.surroundings)?;
    let vehicle = world.vehicle(&of.layout)?;
    let waiting_counts = world.waiting_counts(of.hurry.as_deref())?;
    if let Some(folder) = &of.keep {
        empty_folder(folder)?;
    }
    if let Some(path) = &of.svg {
        can_be_written(path)?;
    }
    let strain = Strain {
        noise: of.noise,
        hidden_place: of.hidden_place,
        wrong_answers: of.wrong_answers / 100.0,
    };
    let field = field(&vehicle, waiting_counts, strain, of.seed);
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let bar = if desk.surroundings.typing {
        indicatif::ProgressBar::new(0)
    } else {
        indicatif::ProgressBar::hidden()
    };
    let mut policies = vec![Policy::GainPerMinute];
    if of.rivals {
        bar.set_style(indicatif::ProgressStyle::default_spinner());
        bar.set_message("a rival learns the order of its checklist: a minute or more");
        bar.enable_steady_tick(std::time::Duration::from_millis(200));
        let order = learn_checklist(
            &field,
            of.seed.wrapping_add(CHECKLIST_SEED),
            of.learn as usize,
        )?;
        policies.extend([
            Policy::Checklist(order),
            Policy::Information,
            Policy::ProbabilityOverCost,
            Policy::Random,
        ]);
    }
    let drill = Drill {
        jobs: of.jobs as usize,
        seed: of.seed,
        policies,
        threads,
    };
    bar.disable_steady_tick();
    bar.reset();
    bar.set_style(indicatif::ProgressStyle::default_bar());
    let drilled = drill.run(&field, &|done, all| {
        bar.set_length(all as u64);
        bar.set_position(done as u64);
    })?;
    bar.finish_and_clear();
    if let Some(path) = &of.svg {
        let tally = drilled[0].tally(waiting_counts);
        Store::save(
            path,
            &crate::show::reliability_svg(&tally.reliability_points()),
        )?;
    }
    if let Some(folder) = &of.keep {
        keep(folder, &field, &drilled[0])?;
    }
    if args.json {
        let told: Vec<Value> = drilled
            .iter()
            .map(|drilled| drilled_json(&field, drilled))
            .collect();
        desk.json(&json!({
            "layout": of.layout, "jobs": of.jobs, "seed": of.seed, "policies": told,
        }))?;
        return Ok(true);
    }
    let mut page = desk.page();
    drilled_text(&mut page, &field, of.jobs as usize, &drilled);
    desk.put(page.text())?;
    Ok(true)
}

/// Makes the folder for drawn jobs, before the first is played; none may lie there yet.
fn empty_folder(folder: &Path) -> Result<(), Failure> {
    let told = |error: std::io::Error| {
        Failure::usage(format!(
            "`{}` can't hold the drawn jobs: {error}; name another folder",
            folder.display()
        ))
    };
    std::fs::create_dir_all(folder).map_err(told)?;
    for entry in std::fs::read_dir(folder).map_err(told)? {
        let name = entry.map_err(told)?.file_name();
        if name.to_string_lossy().starts_with(DRAWN) {
            return Err(Failure::usage(format!(
                "`{}` holds drawn jobs already (`{}`): name another folder, or empty it",
                folder.display(),
                name.to_string_lossy()
            )));
        }
    }
    Ok(())
}

/// Whether a drawing can be written there, before the first job is played.
fn can_be_written(path: &Path) -> Result<(), Failure> {
    let folder = path
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty());
    if folder.is_some_and(|folder| !folder.is_dir()) || path.is_dir() {
        return Err(Failure::usage(format!(
            "`{}` can't be written: name a file in a folder that exists",
            path.display()
        )));
    }
    Ok(())
}

/// Writes each job as a job file that says what really leaked.
fn keep(folder: &Path, field: &Field<'_>, drilled: &Drilled) -> Result<(), Failure> {
    for (number, job) in drilled.played.iter().enumerate() {
        let names: Vec<&str> = (job.sources.iter())
            .map(|&place| field.layout.parts[place].named.name.as_str())
            .collect();
        let mut file = job.job.clone();
        file.title = format!("Drawn job {}: {}", number + 1, names.join(", "));
        let path = folder.join(format!("{DRAWN}{:04}.yaml", number + 1));
        Store::save(&path, &file.write())?;
    }
    Ok(())
}

fn field<'a>(
    vehicle: &'a Vehicle<'a>,
    waiting_counts: f64,
    strain: Strain,
    seed: u64,
) -> Field<'a> {
    Field {
        rules: vehicle.rules,
        layout: vehicle.layout,
        graph: &vehicle.graph,
        shop: vehicle.shop.clone(),
        waiting_counts,
        truth: Truth::of(&vehicle.graph, strain, seed),
    }
}

fn drilled_text(page: &mut Page, field: &Field<'_>, jobs: usize, drilled: &[Drilled]) {
    page.heading(&format!(
        "{jobs} jobs on {}, drawn from the rules",
        field.layout.named.name
    ));
    page.para(
        "Each begins with the report of a loss. A place that is named is opened up, and repaired if it leaks; the job ends when the \
         retest is complete and dry and another source is unlikely, or when nothing is left worth doing. A share is followed by its 95 % interval.",
    );
    for drilled in drilled {
        let tally = drilled.tally(field.waiting_counts);
        page.heading(&format!("By {}", drilled.policy.name()));
        page.item(
            "·",
            &format!("every leak found: {}", share(tally.all_found)),
        );
        if tally.unnamed_told.of > 0 {
            page.item(
                "·",
                &format!(
                    "where the rules name every place that leaked: {}",
                    share(tally.all_found_of_named)
                ),
            );
            page.item(
                "·",
                &format!(
                    "where they don't, ended with \"somewhere else\" as the likeliest: {} of {}",
                    tally.unnamed_told.count, tally.unnamed_told.of
                ),
            );
        }
        if tally.all_found_of_several.of > 0 {
            page.item(
                "·",
                &format!(
                    "where several places lost coolant: {}; where several leaked: {}",
                    share(tally.all_found_of_several),
                    share(tally.all_found_of_several_leaks)
                ),
            );
        }
        page.item(
            "·",
            &format!(
                "a leak ranked first at the stop: {}",
                share(tally.first_right)
            ),
        );
        page.item(
            "·",
            &format!("nothing leaks any more at the end: {}", share(tally.dry)),
        );
        page.item(
            "·",
            &format!("opened up for nothing: {}", share(tally.needless)),
        );
        page.item(
            "·",
            &format!(
                "in the middle {} of work and {} of waiting; {:.1} checks a job",
                time_text(tally.minutes),
                time_text(tally.waiting),
                tally.checks
            ),
        );
        let ended = |end: End| drilled.played.iter().filter(|job| job.end == end).count();
        page.item(
            "·",
            &format!(
                "ended with a repair proved: {}; not proved to the end: {}; with nothing left to gain: {}; too tangled: {}; \
                 with findings at odds: {}; too long: {}",
                ended(End::Proved),
                ended(End::Unproved),
                ended(End::NothingLeft),
                ended(End::TooDense),
                ended(End::AtOdds),
                ended(End::TooLong)
            ),
        );
        if let Some(brier) = tally.brier {
            page.item("·", &format!("Brier score {brier:.4}"));
        }
        if let Policy::Checklist(order) = &drilled.policy {
            let first: Vec<&str> = order.iter().take(LISTED).map(String::as_str).collect();
            page.item(
                "·",
                &format!(
                    "its order begins with {} (all of it: --json)",
                    first.join(", ")
                ),
            );
        }
    }
    let Some(own) = drilled.first() else { return };
    let tally = own.tally(field.waiting_counts);
    page.heading("Chances given at the stop, and what was so");
    for (bin, lowest) in tally.reliability.iter().zip((0_u32..).step_by(10)) {
        if bin.forecasts > 0 {
            page.item(
                "·",
                &format!(
                    "{lowest}–{} %: {}, {:.1} % on average; so in {:.1} %",
                    lowest + 10,
                    if bin.forecasts == 1 {
                        "1 forecast".to_owned()
                    } else {
                        format!("{} forecasts", bin.forecasts)
                    },
                    100.0 * bin.mean,
                    100.0 * bin.true_ones as f64 / bin.forecasts as f64
                ),
            );
        }
    }
    let by_fault = own.by_fault(field.graph);
    page.heading("By the fault that leaked");
    page.para(
        "Jobs in which it leaked: how often every leak was found, and the minutes in the middle.",
    );
    for (fault, jobs) in by_fault {
        let tally = Tally::of(&jobs, field.waiting_counts);
        page.item(
            "·",
            &format!(
                "{}: {} of {}, {:.0} min of work, {:.1} checks",
                field.rules.faults[fault].named.name,
                tally.all_found.count,
                tally.all_found.of,
                tally.minutes,
                tally.checks
            ),
        );
    }
}

fn share(share: Share) -> String {
    format!(
        "{} of {}, {:.1} % ({:.1}–{:.1} %)",
        share.count,
        share.of,
        100.0 * share.value(),
        100.0 * share.low,
        100.0 * share.high
    )
}

fn drilled_json(field: &Field<'_>, drilled: &Drilled) -> Value {
    let tally = drilled.tally(field.waiting_counts);
    let by_fault: serde_json::Map<String, Value> = (drilled.by_fault(field.graph).into_iter())
        .map(|(fault, jobs)| {
            let fault = field.rules.faults[fault].named.id.clone();
            (fault, tally_json(&Tally::of(&jobs, field.waiting_counts)))
        })
        .collect();
    let jobs: Vec<Value> = (drilled.played.iter())
        .map(|job| {
            let ids = |places: &[PartId]| -> Vec<&str> {
                let id = |&place: &PartId| field.layout.parts[place].named.id.as_str();
                places.iter().map(id).collect()
            };
            json!({
                "sources": ids(&job.sources), "found": ids(&job.found),
                "needless": ids(&job.needless), "checks": job.tasks,
                "still_leaking": ids(&job.still_leaking),
                "minutes": job.minutes, "waiting": job.waiting, "end": format!("{:?}", job.end),
            })
        })
        .collect();
    let order = match &drilled.policy {
        Policy::Checklist(order) => json!(order),
        _ => Value::Null,
    };
    let mut told = tally_json(&tally);
    told["policy"] = json!(drilled.policy.name());
    told["checklist"] = order;
    told["by_fault"] = Value::Object(by_fault);
    told["jobs"] = json!(jobs);
    told
}

fn tally_json(tally: &Tally) -> Value {
    let share = |share: Share| json!({"count": share.count, "of": share.of, "low": share.low, "high": share.high});
    let bins: Vec<Value> = (tally.reliability.iter())
        .map(|bin| json!({"forecasts": bin.forecasts, "mean": bin.mean, "true": bin.true_ones}))
        .collect();
    json!({
        "all_found": share(tally.all_found),
        "all_found_of_named": share(tally.all_found_of_named),
        "all_found_of_several": share(tally.all_found_of_several),
        "all_found_of_several_leaks": share(tally.all_found_of_several_leaks),
        "unnamed_told": share(tally.unnamed_told),
        "first_right": share(tally.first_right),
        "needless": share(tally.needless),
        "dry": share(tally.dry),
        "minutes": tally.minutes,
        "waiting": tally.waiting,
        "cost": tally.cost,
        "checks": tally.checks,
        "brier": tally.brier,
        "reliability": bins,
    })
}
