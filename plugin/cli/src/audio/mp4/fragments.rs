//! Fragments that promise more than there can be.

use std::fs::File;
use std::io;

use super::atoms::{Atoms, be_u32};
use super::outermost::Outermost;

/// The `moof` atom holds tables of some seconds of sound. A larger one is not believed.
const MAX_FRAGMENT_BYTES: u64 = 64 << 20;

/// Whether each run of samples is one that the file can hold: a sample has a byte at least. The
/// library counts through all that a run promises before it looks at the first.
///
/// # Errors
///
/// When the file cannot be read.
pub(in crate::audio) fn can_be(file: &mut File) -> io::Result<bool> {
    let mut outermost = Outermost::of(file)?;
    let length = outermost.length();
    while let Some((kind, body)) = outermost.next()? {
        if &kind != b"moof" {
            continue;
        }
        let Some(moof) = outermost.read(body, MAX_FRAGMENT_BYTES)? else { return Ok(false) };
        let tracks = Atoms::of(&moof).filter(|(kind, _)| *kind == b"traf");
        let runs =
            tracks.flat_map(|(_, traf)| Atoms::of(traf)).filter(|(kind, _)| *kind == b"trun");
        // Behind a version and flags stands how many.
        let samples: u64 = runs.filter_map(|(_, run)| be_u32(run, 4)).map(u64::from).sum();
        if samples > length {
            return Ok(false);
        }
    }
    Ok(true)
}
