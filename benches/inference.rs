//! How fast the exact engine is: the reference network and a synthetic model of realistic build.
//! `cargo bench --bench inference`; sizes are printed before the timings.

use std::hint::black_box;
use std::path::Path;
use std::time::Duration;

use criterion::{Criterion, criterion_group, criterion_main};
use seepwise::infer::{Engine, Options};

#[path = "../tests/it/infer_networks.rs"]
#[allow(dead_code)]
mod infer_networks;
#[path = "../tests/it/infer_synthetic.rs"]
mod infer_synthetic;

use infer_networks::{compile, load};
use infer_synthetic::{Synthetic, synthetic};

fn sweep(engine: &mut Engine, questions: usize) -> f64 {
    let now = engine.targets().to_vec();
    (0..questions)
        .map(|question| engine.answers(question).expect("an answer").gain_bits(&now))
        .sum()
}

fn reference(criterion: &mut Criterion) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/networks");
    let net = load(&folder.join("net-a.json"));
    println!("net-a: {:?}", compile(&net, true).sizes());
    criterion.bench_function("net-a posteriors", |bench| {
        bench.iter(|| black_box(compile(&net, false)));
    });
    criterion.bench_function("net-a full sweep", |bench| {
        bench.iter(|| {
            let mut engine = compile(&net, true);
            black_box(sweep(&mut engine, net.checks.len()))
        });
    });
}

fn whole(model: &Synthetic) -> f64 {
    let mut engine = engine(model);
    sweep(&mut engine, model.questions.len())
}

fn engine(model: &Synthetic) -> Engine {
    let Synthetic {
        net,
        findings,
        targets,
        questions,
    } = model;
    Engine::new(net, findings, targets, &[], questions, &Options::default()).expect("an engine")
}

fn models(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("model");
    group
        .sample_size(10)
        .warm_up_time(Duration::from_millis(500));
    group.measurement_time(Duration::from_secs(3));
    let runs = [(40, 4), (40, 8), (40, 12), (20, 4), (80, 4), (160, 4)];
    for (places, abnormal) in runs {
        let model = synthetic(places, abnormal, 1);
        let name = format!("{places} places, {abnormal} abnormal");
        println!(
            "{name}: {} targets, {} questions, {:?}",
            model.targets.len(),
            model.questions.len(),
            engine(&model).sizes()
        );
        group.bench_function(format!("{name}, compile"), |bench| {
            bench.iter(|| black_box(engine(&model)));
        });
        group.bench_function(format!("{name}, with sweep"), |bench| {
            bench.iter(|| black_box(whole(&model)));
        });
    }
    group.finish();
}

criterion_group!(benches, reference, models);
criterion_main!(benches);
