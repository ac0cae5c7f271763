//! Files written whole or not at all.
//!
//! In: a path and a text. Out: the file with that text; after a crash at any moment the file holds
//! either the old text or the new one.

use std::fs;
#[cfg(unix)]
use std::fs::File;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::source::SourceFile;
use crate::source::disk::{self, SourceError};

/// A file that could not be loaded or saved.
#[derive(Debug, Error)]
pub enum StoreError {
    /// It can't be read.
    #[error(transparent)]
    Read(#[from] SourceError),
    /// It can't be written; the old file, if any, is as it was.
    #[error(
        "cannot save {path}: {cause}; the file is as it was, look at the folder's rights and room"
    )]
    Write {
        /// As shown.
        path: String,
        /// What the system says.
        cause: io::Error,
    },
    /// Somebody else has written it since it was read.
    #[error(
        "{path} was changed by somebody else since it was read, so nothing was saved over it; start again, and enter the last line once more"
    )]
    Changed {
        /// As shown.
        path: String,
    },
}

/// Loads and saves files.
#[derive(Debug, Clone, Copy)]
pub struct Store;

impl Store {
    /// Reads a file, within the limits of [`disk`].
    ///
    /// # Errors
    /// As [`disk::read_file`].
    pub fn load(path: &Path) -> Result<SourceFile, StoreError> {
        Ok(disk::read_file(path, &path.display().to_string())?)
    }

    /// Writes a file: into a temporary file of the same folder, flushed to disk, then renamed
    /// over the old one, and the folder flushed too. A link is followed.
    ///
    /// # Errors
    /// What the system says; the old file is then unchanged, and the temporary file is deleted.
    pub fn save(path: &Path, text: &str) -> Result<(), StoreError> {
        write_whole(path, text, true).map_err(|cause| StoreError::Write {
            path: path.display().to_string(),
            cause,
        })
    }
}

impl Store {
    /// Writes a file as [`Store::save`] does, but only over the text that is known to stand there; `None`:
    /// only where there is no file yet. Whoever else saves the same way waits meanwhile.
    ///
    /// # Errors
    /// [`StoreError::Changed`] if something else stands there; else as [`Store::save`].
    pub fn save_over(path: &Path, known: Option<&str>, text: &str) -> Result<(), StoreError> {
        let changed = || StoreError::Changed {
            path: path.display().to_string(),
        };
        let failed = |cause| StoreError::Write {
            path: path.display().to_string(),
            cause,
        };
        let Some(known) = known else {
            return match write_whole(path, text, false) {
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Err(changed()),
                written => written.map_err(failed),
            };
        };
        // Saving puts a new file in the old one's place: who waited for the old one finds other text.
        let old = fs::File::open(path).map_err(failed)?;
        old.lock().map_err(failed)?;
        if *Self::load(path)?.text != *known {
            return Err(changed());
        }
        Self::save(path, text)
    }
}

/// Writes a file in one go; `over`: in the place of one that stands there.
fn write_whole(path: &Path, text: &str, over: bool) -> io::Result<()> {
    let target = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let folder = match target.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_owned(),
        _ => PathBuf::from("."),
    };
    let mut builder = tempfile::Builder::new();
    builder.prefix(".seepwise-").suffix(".tmp");
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let mut temporary = builder.tempfile_in(&folder)?;
    if let Ok(old) = fs::metadata(&target) {
        temporary.as_file().set_permissions(old.permissions())?;
    }
    temporary.write_all(text.as_bytes())?;
    temporary.flush()?;
    temporary.as_file().sync_all()?;
    let kept = if over {
        temporary.persist(&target)
    } else {
        temporary.persist_noclobber(&target)
    };
    kept.map_err(|error| error.error)?;
    // A folder can't be opened as a file everywhere; the rename itself is done.
    #[cfg(unix)]
    File::open(&folder)?.sync_all()?;
    Ok(())
}
