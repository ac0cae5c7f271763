//! Runs the program for other tests: as a process, or inside this one.

use std::path::{Path, PathBuf};

use assert_cmd::Command;
use seepwise::cli::{Surroundings, run};

/// Runs the built program without a shop and without colour: exit code, output, errors.
pub fn told(args: &[&str]) -> (i32, String, String) {
    let output = Command::new(assert_cmd::cargo::cargo_bin!("seepwise"))
        .args(args)
        .env("SEEPWISE_SHOP", "no-such-file.yaml")
        .env("NO_COLOR", "1")
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (
        output.status.code().unwrap(),
        text(output.stdout),
        text(output.stderr),
    )
}

/// Runs a command in this process, 80 columns wide, with nothing typed: exit code, output, errors.
pub fn told_here(args: &[&str]) -> (u8, String, String) {
    run_here(None, args)
}

/// The same in a shop of this file.
pub fn told_in_shop(shop: &Path, args: &[&str]) -> (u8, String, String) {
    run_here(Some(shop.to_owned()), args)
}

fn run_here(shop: Option<PathBuf>, args: &[&str]) -> (u8, String, String) {
    let surroundings = Surroundings {
        width: 80,
        colour: false,
        typing: false,
        shop,
    };
    let (mut out, mut errors) = (Vec::new(), Vec::new());
    let all = std::iter::once("seepwise").chain(args.iter().copied());
    let code = run(
        all.map(Into::into),
        &mut std::io::empty(),
        &mut out,
        &mut errors,
        &surroundings,
    );
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (code, text(out), text(errors))
}
