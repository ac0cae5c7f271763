//! Saving is all or nothing: a writer killed at any instant leaves a whole file.

use std::path::Path;
use std::process::Command;
use std::time::Duration;

use seepwise::job::Store;

const LOOP: &str = "SEEPWISE_TEST_SAVE_LOOP";
const LINES: usize = 4000;

fn text(number: usize) -> String {
    format!("line of save {number}\n").repeat(LINES)
}

/// Saves again and again, when the test below starts it as a child; else does nothing.
#[test]
fn child_that_saves() {
    let Some(path) = std::env::var_os(LOOP) else {
        return;
    };
    for number in 0.. {
        Store::save(Path::new(&path), &text(number)).expect("saved");
    }
}

#[test]
fn a_killed_writer_leaves_a_whole_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("a.job.yaml");
    Store::save(&path, &text(0)).expect("saved");
    let this = std::env::current_exe().expect("this program");
    let mut replaced = 0;
    for round in 0..20_u64 {
        let mut child = Command::new(&this)
            .args(["job_store::child_that_saves", "--exact"])
            .env(LOOP, &path)
            .stdout(std::process::Stdio::null())
            .spawn()
            .expect("a child");
        // Spread over instants without any pattern.
        std::thread::sleep(Duration::from_micros(4_000 + (round * 7_919_777) % 60_000));
        child.kill().expect("killed");
        child.wait().expect("ended");
        let read = Store::load(&path).expect("loaded");
        let first = read.text.lines().next().expect("not empty").to_owned();
        assert!(
            read.text.lines().all(|line| line == first),
            "two saves in one file"
        );
        assert_eq!(read.text.lines().count(), LINES, "a save cut short");
        replaced += usize::from(first != "line of save 0");
    }
    assert!(replaced > 0, "no child was killed while it saved");
    // What killed writers left behind does not replace the job.
    Store::save(&path, "whole\n").expect("saved");
    std::fs::write(folder.path().join(".seepwise-left.tmp"), "half").expect("written");
    assert_eq!(&*Store::load(&path).expect("loaded").text, "whole\n");
}

#[test]
fn a_failed_save_leaves_the_old_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let missing = folder.path().join("none").join("a.yaml");
    let error = Store::save(&missing, "x").expect_err("no such folder");
    assert!(error.to_string().contains("cannot save"), "{error}");
    let path = folder.path().join("a.yaml");
    Store::save(&path, "old").expect("saved");
    Store::save(&path, "new").expect("saved");
    assert_eq!(
        std::fs::read_dir(folder.path()).expect("listed").count(),
        1,
        "a temporary file is left"
    );
    assert_eq!(&*Store::load(&path).expect("loaded").text, "new");
}
