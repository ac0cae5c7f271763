//! A job's file that goes on: what stands in it already stays as somebody wrote it.
//!
//! In: the text as it stands on disk, and the job with new entries at the end of its log. Out: the text
//! with the new entries put in, comments and layout of the rest untouched; written anew where what
//! changed is more than that.
//!
//! Example: a comment behind an entry is still there after `trace` has added an answer.

use std::path::{Path, PathBuf};

use crate::job::file::JobFile;
use crate::job::store::{Store, StoreError};
use crate::job::write::{expect_text, logged};
use crate::source::{SourceFile, Sources};

/// A job's file, and its text when it was last read or saved.
#[derive(Debug, Clone)]
pub struct KeptJob {
    path: PathBuf,
    known: Option<String>,
}

/// What of a file's old text stands in the new one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kept {
    /// All of it.
    Comments,
    /// The job; comments could not be kept.
    Entries,
}

impl KeptJob {
    /// Takes note of the text that stands there now; a file that does not exist yet has none.
    ///
    /// # Errors
    /// As [`Store::load`].
    pub fn of(path: &Path) -> Result<Self, StoreError> {
        let known = if path.exists() {
            Some(Store::load(path)?.text.to_string())
        } else {
            None
        };
        Ok(Self {
            path: path.to_owned(),
            known,
        })
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Saves the job over the text that is known.
    ///
    /// # Errors
    /// If somebody else has changed the file since it was known, or it can't be written; it is as it was
    /// then.
    pub fn save(&mut self, job: &JobFile) -> Result<Kept, StoreError> {
        let text = match &self.known {
            Some(old) => written_over(old, job),
            None => job.write(),
        };
        if self.known.as_ref() == Some(&text) {
            return Ok(Kept::Comments);
        }
        Store::save_over(&self.path, self.known.as_deref(), &text)?;
        let comments = |text: &str| text.matches('#').count();
        let old = self.known.replace(text);
        let (old, new) = (
            old.as_deref().map_or(0, comments),
            self.known.as_deref().map_or(0, comments),
        );
        Ok(if new < old {
            Kept::Entries
        } else {
            Kept::Comments
        })
    }
}

/// The text of a job that keeps an older text as it stands and adds to it; written anew if that would not
/// give the same job.
fn written_over(old: &str, job: &JobFile) -> String {
    let whole = job.write();
    let same = |text: &str| read(text).is_some_and(|read| read.write() == whole);
    if same(old) {
        return old.to_owned();
    }
    let added = read(old).and_then(|before| added_to(old, &before, job));
    added.filter(|text| same(text)).unwrap_or(whole)
}

fn read(text: &str) -> Option<JobFile> {
    let mut sources = Sources::new();
    let file = sources.add(SourceFile::new("job", text));
    JobFile::read(file, &sources).ok()
}

/// An older text with what is new at the end of the log, and expectations if there were none.
fn added_to(old: &str, before: &JobFile, job: &JobFile) -> Option<String> {
    let new = job.log.get(before.log.len()..)?;
    let mut lines: Vec<&str> = old.lines().collect();
    let line_end = if old.contains("\r\n") { "\r\n" } else { "\n" };
    let entries: Vec<String>;
    if !new.is_empty() {
        let begins = lines.iter().position(|line| {
            let bare = line.split('#').next().map(str::trim_end);
            matches!(bare, Some("log:" | "log: []"))
        });
        if let Some(begins) = begins
            && lines[begins].starts_with("log: []")
        {
            lines[begins] = "log:";
        }
        let (at, indent) = match begins {
            Some(begins) => end_of_list(&lines, begins),
            None if before.log.is_empty() => {
                lines.push("log:");
                (lines.len(), "  ")
            }
            None => return None,
        };
        entries = new
            .iter()
            .map(|entry| format!("{indent}- {}", logged(entry)))
            .collect();
        lines.splice(at..at, entries.iter().map(String::as_str));
    }
    let mut text = lines.join(line_end);
    text.push_str(line_end);
    if let (None, Some(expect)) = (&before.expect, &job.expect) {
        text.push_str(&expect_text(expect).replace('\n', line_end));
    }
    Some(text)
}

/// The line behind the last one of a list that begins after a line, and how its items are indented.
fn end_of_list<'t>(lines: &[&'t str], begins: usize) -> (usize, &'t str) {
    let (mut end, mut indent) = (begins + 1, None);
    for (at, line) in lines.iter().enumerate().skip(begins + 1) {
        let bare = line.trim_start();
        if bare.is_empty() || bare.starts_with('#') {
            continue;
        }
        if bare.len() == line.len() && !bare.starts_with('-') {
            break;
        }
        if bare.starts_with('-') {
            indent.get_or_insert(&line[..line.len() - bare.len()]);
        }
        end = at + 1;
    }
    (end, indent.unwrap_or("  "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::file::Entry;

    const OLD: &str = "# by hand\njob: 1\nlayout: tender   # the red one\nlog:\n# first\n- check: loss_reported\n  answer: slow # two weeks\n\nexpect:\n  first: [cap]\n# the end\n";

    #[test]
    fn comments_stay_and_new_entries_stand_at_the_end_of_the_log() {
        let mut job = read(OLD).unwrap();
        job.log.push(Entry::Withdrawn(1).into());
        let text = written_over(OLD, &job);
        let (log, rest) = OLD.split_once("\nexpect:").unwrap();
        assert_eq!(text, format!("{log}- {{withdrawn: 1}}\n\nexpect:{rest}"));
        assert_eq!(read(&text).unwrap(), job);
    }

    #[test]
    fn what_changed_before_the_end_is_written_anew() {
        let mut job = read(OLD).unwrap();
        job.log.clear();
        assert_eq!(written_over(OLD, &job), job.write());
    }

    #[test]
    fn a_file_that_somebody_else_changed_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.yaml");
        let mut job = read(OLD).unwrap();
        let mut kept = KeptJob::of(&path).unwrap();
        kept.save(&job).unwrap();
        job.log.push(Entry::Withdrawn(1).into());
        let mut other = KeptJob::of(&path).unwrap();
        other.save(&job).unwrap();
        let theirs = std::fs::read_to_string(&path).unwrap();
        assert!(matches!(kept.save(&job), Err(StoreError::Changed { .. })));
        assert_eq!(std::fs::read_to_string(&path).unwrap(), theirs);
    }
}
