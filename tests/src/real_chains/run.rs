//! One chain on one piece: made, compared, judged.

use std::fs;
use std::io::Result;
use std::path::Path;

use serde_json::Value;

use super::judge::{Judged, judge};
use super::kind::{Kind, Made, Scene};
use super::piece::Stock;

/// Makes mix and export of a kind from a piece, in a folder that is made.
///
/// # Errors
///
/// When a program fails or a file cannot be written.
pub fn make(kind: &Kind, stock: &Stock, piece: usize, folder: &Path) -> Result<Made> {
    fs::create_dir_all(folder)?;
    let (piece, other) = (&stock.pieces[piece], stock.after(piece));
    (kind.make)(&Scene { piece, other, voice: &stock.voice, folder })
}

/// The same, held against what `compare` says of mix and export; the folder goes.
///
/// # Errors
///
/// The same, and when `compare` fails.
pub fn judged(
    kind: &Kind,
    stock: &Stock,
    piece: usize,
    folder: &Path,
    compare: impl Fn(&Path, &Path) -> Result<Value>,
) -> Result<Judged> {
    let made = make(kind, stock, piece, folder)?;
    let record = compare(&made.mix, &made.export)?;
    fs::remove_dir_all(folder)?;
    Ok(judge(kind, &made.facts, &record))
}
