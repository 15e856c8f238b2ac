//! Folders among the arguments: the sound files in them and in the folders below, by name.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Error, Result, anyhow};

use crate::audio;

/// Folders within folders, beyond which something is wrong with the disk.
const MOST_DEEP: usize = 64;

/// The files that the arguments stand for, and what could not be looked into.
pub(super) fn files(arguments: &[PathBuf]) -> (Vec<PathBuf>, Vec<Error>) {
    let (mut files, mut unread) = (Vec::new(), Vec::new());
    for argument in arguments {
        if !argument.is_dir() {
            files.push(argument.clone());
            continue;
        }
        let before = (files.len(), unread.len());
        gather(argument, 0, &mut files, &mut unread);
        if (files.len(), unread.len()) == before {
            unread.push(anyhow!(
                "{} is a folder without a sound file. Name another, or the files themselves.",
                argument.display()
            ));
        }
    }
    (files, unread)
}

fn gather(folder: &Path, depth: usize, files: &mut Vec<PathBuf>, unread: &mut Vec<Error>) {
    let entries = match list(folder) {
        Ok(entries) if depth < MOST_DEEP => entries,
        Ok(_) => return unread.push(anyhow!("{} lies too deep.", folder.display())),
        Err(error) => return unread.push(error),
    };
    for (path, kind) in entries {
        // What a link leads to is read, but no folder twice, or for ever.
        if kind.is_dir() {
            gather(&path, depth + 1, files, unread);
        } else if path.is_file() && audio::is_sound_file(&path) {
            files.push(path);
        }
    }
}

/// What a folder holds, by name, but for what systems hide.
fn list(folder: &Path) -> Result<Vec<(PathBuf, fs::FileType)>> {
    let read = || -> std::io::Result<Vec<_>> {
        fs::read_dir(folder)?
            .map(|entry| entry.and_then(|entry| Ok((entry.path(), entry.file_type()?))))
            .collect()
    };
    let mut entries = read().with_context(|| format!("{} cannot be read", folder.display()))?;
    entries.retain(|(path, _)| {
        !path.file_name().is_some_and(|name| name.as_encoded_bytes().starts_with(b"."))
    });
    entries.sort_by(|(one, _), (other, _)| one.cmp(other));
    Ok(entries)
}
