//! Reading files from disk, within limits.
//!
//! In: a path. Out: a [`SourceFile`], or a [`SourceError`] that says what to do. Nothing larger
//! than [`MAX_BYTES`] is ever held in memory, whatever a device or pipe pours out.

use std::collections::BTreeSet;
use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::source::{MAX_BYTES, SourceFile};

/// Most files read from one folder.
pub const MAX_FILES: usize = 2000;

/// Most folders inside one another.
pub const MAX_FOLDERS_DEEP: usize = 16;

/// Why a file or folder can't be read.
#[derive(Debug, Error)]
pub enum SourceError {
    /// The system says no.
    #[error("cannot read {path}: {cause}")]
    Io {
        /// As shown.
        path: String,
        /// What the system says.
        cause: io::Error,
    },
    /// Too large a file.
    #[error("{path} is larger than 2 MiB: split it into several files")]
    TooLarge {
        /// As shown.
        path: String,
    },
    /// Text that is no UTF-8.
    #[error("{path} is not UTF-8 text (byte {at}): save it as UTF-8")]
    NotUtf8 {
        /// As shown.
        path: String,
        /// The first wrong byte.
        at: usize,
        /// The text before it, followed by a mark in its place.
        before: String,
    },
    /// Too many files in a folder.
    #[error(
        "{path} holds more than {MAX_FILES} files or folders more than {MAX_FOLDERS_DEEP} deep"
    )]
    TooMany {
        /// As shown.
        path: String,
    },
}

/// Reads one file, to be shown under a name.
///
/// # Errors
/// See [`SourceError`]; a file too large is refused from its size on record, before it is read.
pub fn read_file(path: &Path, name: &str) -> Result<SourceFile, SourceError> {
    let io_error = |cause| SourceError::Io {
        path: name.to_owned(),
        cause,
    };
    let too_large = || SourceError::TooLarge {
        path: name.to_owned(),
    };
    let file = fs::File::open(path).map_err(io_error)?;
    let about = file.metadata().map_err(io_error)?;
    if about.is_dir() {
        return Err(io_error(io::Error::new(
            io::ErrorKind::IsADirectory,
            "it is a folder",
        )));
    }
    if about.len() > MAX_BYTES as u64 {
        return Err(too_large());
    }
    let bytes = read_bounded(file)
        .map_err(io_error)?
        .ok_or_else(too_large)?;
    to_source(name, &bytes)
}

/// Reads a stream (standard input, a pipe), to be shown under a name.
///
/// # Errors
/// See [`SourceError`].
pub fn read_stream(stream: impl Read, name: &str) -> Result<SourceFile, SourceError> {
    let bytes = read_bounded(stream)
        .map_err(|cause| SourceError::Io {
            path: name.to_owned(),
            cause,
        })?
        .ok_or_else(|| SourceError::TooLarge {
            path: name.to_owned(),
        })?;
    to_source(name, &bytes)
}

/// All bytes of a stream, or `None` if there are more than [`MAX_BYTES`].
fn read_bounded(stream: impl Read) -> io::Result<Option<Vec<u8>>> {
    let mut bytes = Vec::new();
    stream.take(MAX_BYTES as u64 + 1).read_to_end(&mut bytes)?;
    Ok((bytes.len() <= MAX_BYTES).then_some(bytes))
}

/// A source file from bytes that must be UTF-8.
pub fn to_source(name: &str, bytes: &[u8]) -> Result<SourceFile, SourceError> {
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok(SourceFile::new(name, text)),
        Err(error) => {
            let at = error.valid_up_to();
            let mut before = String::from_utf8_lossy(&bytes[..at]).into_owned();
            before.push('\u{fffd}');
            Err(SourceError::NotUtf8 {
                path: name.to_owned(),
                at,
                before,
            })
        }
    }
}

/// Whether a name ends as a YAML file's does: `.yaml`, or `.yml`.
pub fn is_yaml(path: &Path) -> bool {
    (path.extension()).is_some_and(|ending| ending == "yaml" || ending == "yml")
}

/// Finds the YAML files of a folder and the folders in it, sorted by their shown names
/// (relative to the folder, `/` between). A folder reached twice through links is read once.
///
/// # Errors
/// A folder that can't be listed, or one with more than [`MAX_FILES`] files.
pub fn yaml_files(folder: &Path) -> Result<Vec<(String, PathBuf)>, SourceError> {
    let mut walk = Walk {
        found: Vec::new(),
        seen: BTreeSet::new(),
    };
    walk.enter(folder, "", 0)?;
    walk.found.sort();
    Ok(walk.found)
}

struct Walk {
    found: Vec<(String, PathBuf)>,
    seen: BTreeSet<PathBuf>,
}

impl Walk {
    fn enter(&mut self, folder: &Path, shown: &str, depth: usize) -> Result<(), SourceError> {
        let path = if shown.is_empty() {
            folder.display().to_string()
        } else {
            shown.to_owned()
        };
        let io_error = |cause| SourceError::Io {
            path: path.clone(),
            cause,
        };
        let too_many = || SourceError::TooMany { path: path.clone() };
        if !self
            .seen
            .insert(fs::canonicalize(folder).map_err(io_error)?)
        {
            return Ok(());
        }
        if depth > MAX_FOLDERS_DEEP || self.seen.len() > MAX_FILES {
            return Err(too_many());
        }
        for entry in fs::read_dir(folder).map_err(io_error)? {
            let entry = entry.map_err(io_error)?;
            let file_name = entry.file_name().to_string_lossy().into_owned();
            let name = if shown.is_empty() {
                file_name
            } else {
                format!("{shown}/{file_name}")
            };
            let inner = entry.path();
            if inner.is_dir() {
                self.enter(&inner, &name, depth + 1)?;
            } else if is_yaml(&inner) {
                if self.found.len() >= MAX_FILES {
                    return Err(too_many());
                }
                self.found.push((name, inner));
            }
        }
        Ok(())
    }
}
