//! The command line: as typed → resolved arguments → one file per command.
//!
//! In: arguments, a reader for the user's lines, writers, and the [`Surroundings`]. Out: text on
//! the writers and an exit code: 0 done, 1 the answer is "no", 2 bad usage or unreadable input.

mod args;
mod args_measure;
mod ask;
mod choose;
mod coolant;
mod drill;
mod entries;
mod failure;
mod graph;
mod hold;
mod hold_plan;
mod hunch;
mod job;
mod layout_checks;
mod layouts;
mod log;
mod needle;
mod next;
mod pick;
mod port;
mod practice;
mod rank;
mod release;
mod replay;
mod rules;
mod rules_tables;
mod set_up;
mod sheet;
mod shop;
mod signs;
mod stories;
mod story;
mod trace;
mod twins;
mod understood;
mod what_if;
mod why;
mod world;
mod zones;

use std::ffi::OsString;
use std::io::{BufRead, Write};
use std::path::PathBuf;

use clap::Parser;

use args::{Args, Command};
use failure::Failure;

/// What the command runs in.
#[derive(Debug, Clone)]
pub struct Surroundings {
    /// Columns to write.
    pub width: usize,
    /// Whether colour is wanted.
    pub colour: bool,
    /// Whether somebody types (else lines come from a pipe).
    pub typing: bool,
    /// Where the shop's file is kept, if anywhere.
    pub shop: Option<PathBuf>,
}

/// Where the shop's file is kept: `SEEPWISE_SHOP`, else the user's configuration folder.
pub fn shop_file(environment: impl Fn(&str) -> Option<OsString>) -> Option<PathBuf> {
    let set = |name: &str| {
        environment(name)
            .filter(|value| !value.is_empty())
            .map(PathBuf::from)
    };
    set("SEEPWISE_SHOP").or_else(|| {
        let folder =
            set("XDG_CONFIG_HOME").or_else(|| set("HOME").map(|home| home.join(".config")))?;
        Some(folder.join("seepwise").join("shop.yaml"))
    })
}

/// Writers and surroundings of one run.
struct Desk<'a> {
    input: &'a mut dyn BufRead,
    out: &'a mut dyn Write,
    errors: &'a mut dyn Write,
    surroundings: &'a Surroundings,
    /// Whether what is said on the way goes beside the output, which is then JSON alone.
    talks_aside: bool,
}

impl Desk<'_> {
    /// An empty page as wide as the terminal.
    fn page(&self) -> crate::show::Page {
        crate::show::Page::new(self.surroundings.width, self.surroundings.colour)
    }

    /// Writes text as it is.
    fn put(&mut self, text: &str) -> Result<(), Failure> {
        let to = if self.talks_aside {
            &mut *self.errors
        } else {
            &mut *self.out
        };
        to.write_all(text.as_bytes())
            .and_then(|()| to.flush())
            .map_err(Failure::from)
    }

    /// Writes a JSON value and a line end.
    fn json(&mut self, value: &serde_json::Value) -> Result<(), Failure> {
        let text = serde_json::to_string_pretty(value)
            .map_err(|error| Failure::usage(error.to_string()))?;
        writeln!(self.out, "{text}")
            .and_then(|()| self.out.flush())
            .map_err(Failure::from)
    }
}

/// Runs one command and returns its exit code.
pub fn run(
    arguments: impl IntoIterator<Item = OsString>,
    input: &mut dyn BufRead,
    out: &mut dyn Write,
    errors: &mut dyn Write,
    surroundings: &Surroundings,
) -> u8 {
    let args = match Args::try_parse_from(arguments) {
        Ok(args) => args,
        Err(error) => {
            let shown = error.render();
            let text = if surroundings.colour {
                shown.ansi().to_string()
            } else {
                shown.to_string()
            };
            let to: &mut dyn Write = if error.use_stderr() { errors } else { out };
            // Nothing more can be done where even this can't be written.
            let _ = to.write_all(text.as_bytes());
            return if error.use_stderr() { 2 } else { 0 };
        }
    };
    let mut desk = Desk {
        input,
        out,
        errors: &mut *errors,
        surroundings,
        talks_aside: false,
    };
    let done = match &args.command {
        Command::Trace(of) => trace::run(&mut desk, &args, of),
        Command::Replay(of) => replay::run(&mut desk, &args, of),
        Command::Rank(of) => rank::run(&mut desk, &args, of),
        Command::Next(of) => next::run(&mut desk, &args, of),
        Command::Why(of) => why::run(&mut desk, &args, of),
        Command::Hunch(of) => hunch::run(&mut desk, &args, of),
        Command::Stories(of) => stories::run(&mut desk, &args, of),
        Command::WhatIf(of) => what_if::run(&mut desk, &args, of),
        Command::Rules(of) => rules::run(&mut desk, &args, of),
        Command::Layouts(of) => layouts::run(&mut desk, &args, of),
        Command::Sheet(of) => sheet::run(&mut desk, &args, of),
        Command::Release(of) => release::run(&mut desk, &args, of),
        Command::Job(of) => job::run(&mut desk, &args, of),
        Command::Graph(of) => graph::run(&mut desk, &args, of),
        Command::Shop(of) => shop::run(&mut desk, &args, of),
        Command::Hold(of) => hold::run(&mut desk, &args, of),
        Command::Coolant(of) => coolant::run(&mut desk, &args, of),
        Command::Port(of) => port::run(&mut desk, &args, of),
        Command::Practice(of) => practice::run(&mut desk, &args, of),
    };
    match done {
        Ok(true) | Err(Failure::Closed) => 0,
        Ok(false) => 1,
        Err(Failure::Told(text)) => {
            let _ = writeln!(errors, "{}", text.trim_end());
            2
        }
    }
}
