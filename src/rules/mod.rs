//! The rule base and the layouts, from YAML text to checked types.
//!
//! In: a folder, the built-in files, or texts. Out: [`Loaded`]. Stages: [`read`] (text → spanned
//! tree) → [`raw`] (tree → sections) → `check` (sections → [`RuleBase`] and [`Layout`]s).
//!
//! ```
//! use seepwise::rules;
//! use seepwise::source::SourceFile;
//! let loaded = rules::load_sources(vec![SourceFile::new("a.yaml", "rules: 1\ntoolz: {}\n")]);
//! assert!(loaded.rules.is_none());
//! assert!(loaded.notices.codes().contains("unknown-key"));
//! ```

pub mod base;
mod check;
pub mod layout;
mod passage;
pub mod raw;
pub mod read;
pub mod spots;
pub mod suggest;
pub mod typed;

use std::path::Path;

use include_dir::{Dir, include_dir};

use crate::notice::{Notice, Notices, codes};
use crate::source::disk::{SourceError, is_yaml, read_file, to_source, yaml_files};
use crate::source::{SourceFile, SourceId, Sources, Span};

pub use base::RuleBase;
pub use layout::Layout;
pub use spots::Spots;

/// The rule base that is built in.
static BUILT_IN: Dir<'static> = include_dir!("$CARGO_MANIFEST_DIR/rules/coolant");

/// What a load gives.
#[derive(Debug, Clone, Default)]
pub struct Loaded {
    /// The rule base; `None` when there are errors.
    pub rules: Option<RuleBase>,
    /// The layouts, in order of their files; none when there are errors.
    pub layouts: Vec<Layout>,
    /// Everything found, in order of file and line.
    pub notices: Notices,
    /// The files.
    pub sources: Sources,
    /// Where things stand in them; empty when there are errors.
    pub spots: Spots,
}

impl Loaded {
    /// The layout with an id.
    pub fn layout(&self, id: &str) -> Option<&Layout> {
        self.layouts.iter().find(|layout| layout.named.id == id)
    }
}

/// Loads every `.yaml` and `.yml` file of a folder and of the folders in it.
///
/// Files that can't be read are reported like any other problem.
pub fn load_dir(folder: &Path) -> Loaded {
    match yaml_files(folder) {
        Ok(files) => load(
            files
                .into_iter()
                .map(|(name, path)| read_file(&path, &name)),
        ),
        Err(error) => load(std::iter::once(Err(error))),
    }
}

/// Loads the built-in rule base.
pub fn load_embedded() -> Loaded {
    let mut files = Vec::new();
    collect(&BUILT_IN, &mut files);
    files.sort();
    load(
        files
            .into_iter()
            .map(|(name, bytes)| to_source(&name, bytes)),
    )
}

/// Loads texts.
pub fn load_sources(files: Vec<SourceFile>) -> Loaded {
    load(files.into_iter().map(Ok))
}

fn collect(folder: &Dir<'static>, files: &mut Vec<(String, &'static [u8])>) {
    for file in folder.files() {
        if is_yaml(file.path()) {
            files.push((
                file.path().to_string_lossy().replace('\\', "/"),
                file.contents(),
            ));
        }
    }
    folder.dirs().for_each(|inner| collect(inner, files));
}

fn load(files: impl Iterator<Item = Result<SourceFile, SourceError>>) -> Loaded {
    let mut sources = Sources::new();
    let mut notices = Notices::new();
    let mut ids = Vec::new();
    for file in files {
        match file {
            Ok(file) => ids.push(sources.add(file)),
            Err(error) => notices.push(unreadable(error, &mut sources)),
        }
    }
    let mut trees = Vec::new();
    for tree in trees_of(&ids, &sources) {
        match tree {
            Ok(tree) => trees.push(tree),
            Err(notice) => notices.push(notice),
        }
    }
    // Half of the files would make errors of the other half: names that nobody declares.
    if !notices.is_empty() {
        notices.sort();
        return Loaded {
            rules: None,
            layouts: Vec::new(),
            notices,
            sources,
            spots: Spots::default(),
        };
    }
    let (rules, layouts, spots, mut notices) = check::check(&trees, notices);
    if sources.files().is_empty() {
        let file = sources.add(SourceFile::new("rules", ""));
        let message = "there is no rules file here";
        notices.push(
            Notice::error(codes::UNREADABLE, Span::new(file, 0, 0), message)
                .help("rules are files that end in .yaml or .yml"),
        );
    }
    notices.sort();
    let good = notices.errors() == 0;
    Loaded {
        rules: good.then_some(rules),
        layouts: if good { layouts } else { Vec::new() },
        notices,
        sources,
        spots: if good { spots } else { Spots::default() },
    }
}

/// Reads files on two cores: half of the text each.
fn trees_of(ids: &[SourceId], sources: &Sources) -> Vec<Result<raw::Node, Notice>> {
    let read = |ids: &[SourceId]| -> Vec<_> {
        let each = ids.iter().map(|&id| read::tree(id, sources));
        each.collect()
    };
    let length = |id: &SourceId| sources.file(*id).text.len();
    let total: usize = ids.iter().map(length).sum();
    let mut so_far = 0;
    let first_half = ids.iter().take_while(|id| {
        so_far += length(id);
        2 * so_far <= total
    });
    let middle = first_half.count();
    let (first, second) = ids.split_at(middle);
    std::thread::scope(|scope| {
        let helper = scope.spawn(|| read(second));
        let mut trees = read(first);
        match helper.join() {
            Ok(more) => trees.extend(more),
            Err(panic) => std::panic::resume_unwind(panic),
        }
        trees
    })
}

/// The notice for a file that can't be read; the file is added with what text there is.
fn unreadable(error: SourceError, sources: &mut Sources) -> Notice {
    let message = error.to_string();
    let (code, path, text) = match error {
        SourceError::Io { path, .. } => (codes::UNREADABLE, path, String::new()),
        SourceError::TooLarge { path } | SourceError::TooMany { path } => {
            (codes::TOO_LARGE, path, String::new())
        }
        SourceError::NotUtf8 { path, before, .. } => (codes::NOT_UTF8, path, before),
    };
    let end = text.len();
    let start = text.char_indices().next_back().map_or(0, |(at, _)| at);
    let file = sources.add(SourceFile::new(path, &text));
    Notice::error(code, Span::new(file, start, end), message)
}
