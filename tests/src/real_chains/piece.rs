//! The pieces: stereo at 48 kHz in words of 24 bits, with a headroom of 6 dB, as mixes have.

use std::io::Result;
use std::path::{Path, PathBuf};

use super::library::Library;
use super::recipes::{Layer, Recipe, VOICE, Words};
use super::tools;
use crate::chains;
use crate::memory::Memory;
use crate::signals::noise::bell;
use crate::wav;

/// Sample rate, in Hz.
pub const RATE_HZ: u32 = 48_000;
/// Largest sample.
const PEAK: f64 = 0.5;
/// RMS of the noise under every piece, −100 dBFS: that of a good room. No recording is silent.
const FLOOR: f64 = 1e-5;
/// Silence between spoken words, in seconds.
const PAUSE_S: f64 = 0.3;

/// A piece, in memory and in a file.
pub struct Piece {
    /// Its name.
    pub name: &'static str,
    /// Its samples.
    pub sound: Memory,
    /// The file that holds them.
    pub file: PathBuf,
}

/// All pieces, and the voice that is mixed over them.
pub struct Stock {
    /// The pieces.
    pub pieces: Vec<Piece>,
    /// Somebody speaking, one channel.
    pub voice: Memory,
}

impl Stock {
    /// Makes pieces of this length, and writes them into a folder.
    ///
    /// # Errors
    ///
    /// When a package is missing, a program fails or a file cannot be written.
    pub fn make(
        recipes: &'static [Recipe],
        length_s: f64,
        library: &Library,
        folder: &Path,
    ) -> Result<Self> {
        let frames = (length_s * f64::from(RATE_HZ)) as usize;
        let make = |recipe: &'static Recipe| {
            let sound = mixed(recipe, frames, library)?;
            let file = folder.join(format!("{}.wav", recipe.name));
            // Another run may be reading it.
            let partial = folder.join(format!("{}-{}.wav", recipe.name, std::process::id()));
            wav::write_words(&partial, 24, &sound)?;
            std::fs::rename(partial, &file)?;
            Ok(Piece { name: recipe.name, sound, file })
        };
        let pieces = recipes.iter().map(make).collect::<Result<_>>()?;
        // In another order than where the same words are a piece.
        let mut words = spoken(&VOICE, frames, library)?;
        words.reverse();
        let voice = Memory::new(RATE_HZ, vec![words.concat()]);
        Ok(Self { pieces, voice })
    }

    /// The piece after this one, for what comes from elsewhere.
    #[must_use]
    pub fn after(&self, index: usize) -> &Piece {
        &self.pieces[(index + 1) % self.pieces.len()]
    }
}

/// What has to be installed before the pieces can be made, a sentence each.
#[must_use]
pub fn missing(recipes: &[Recipe], library: &Library) -> Vec<String> {
    let layers = recipes.iter().flat_map(|recipe| recipe.layers).map(|(layer, _)| match layer {
        Layer::File { package, path, .. } => (*package, *path),
        Layer::Words(words) => (words.package, words.folder),
    });
    let mut missing: Vec<String> = layers
        .chain([(VOICE.package, VOICE.folder)])
        .filter_map(|(package, path)| Some(library.find(package, path).err()?.to_string()))
        .collect();
    missing.sort();
    missing.dedup();
    missing
}

/// All layers of a piece.
fn mixed(recipe: &Recipe, frames: usize, library: &Library) -> Result<Memory> {
    let mut channels = vec![vec![0.0; frames]; 2];
    for (layer, share) in recipe.layers {
        let sound = played(layer, frames, library)?;
        let scale = share / peak(&sound);
        for (channel, layer) in channels.iter_mut().zip(&sound) {
            for (sum, x) in channel.iter_mut().zip(layer) {
                *sum += scale * x;
            }
        }
    }
    let scale = PEAK / peak(&channels);
    for (side, channel) in (0u64..).zip(&mut channels) {
        for (n, x) in (0u64..).zip(channel.iter_mut()) {
            *x = scale * *x + FLOOR * bell(31 + side, n);
        }
    }
    Ok(chains::quantised(&Memory::new(RATE_HZ, channels), 24, 0))
}

fn peak(channels: &[Vec<f64>]) -> f64 {
    channels.iter().flatten().fold(1e-9, |held, x| held.max(x.abs()))
}

fn played(layer: &Layer, frames: usize, library: &Library) -> Result<Vec<Vec<f64>>> {
    match layer {
        Layer::File { package, path, from_s } => {
            let file = library.find(package, path)?;
            let length_s = frames as f64 / f64::from(RATE_HZ);
            let samples = tools::decode(&file, *from_s, length_s, 2)?;
            let (pairs, _) = samples.as_chunks::<2>();
            Ok([0, 1].map(|side| pairs.iter().map(|pair| pair[side]).collect()).to_vec())
        }
        Layer::Words(words) => {
            let lines = spoken(words, frames, library)?;
            let mut channels = vec![Vec::new(); 2];
            for (index, line) in lines.iter().enumerate() {
                for (side, channel) in channels.iter_mut().enumerate() {
                    let near = index % 2 == side;
                    let gain = if near { 1.0 } else { 0.5 };
                    channel.extend(line.iter().map(|x| gain * x));
                }
            }
            Ok(channels)
        }
    }
}

/// Words or lines, a pause after each, again and again until there are enough.
fn spoken(words: &Words, frames: usize, library: &Library) -> Result<Vec<Vec<f64>>> {
    let folder = library.find(words.package, words.folder)?;
    let mut files = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let name = entry?.path();
        let is_sound = name.extension().is_some_and(|ending| ending == "wav" || ending == "ogg");
        let stem = name.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        if is_sound && words.beginnings.iter().any(|beginning| stem.starts_with(beginning)) {
            files.push(name);
        }
    }
    files.sort();
    let pause = (PAUSE_S * f64::from(RATE_HZ)) as usize;
    let mut lines = Vec::new();
    let mut length = 0;
    for file in files.iter().cycle() {
        let mut line = tools::decode(file, 0.0, 30.0, 1)?;
        line.resize(line.len() + pause, 0.0);
        length += line.len();
        lines.push(line);
        if length >= frames {
            break;
        }
    }
    Ok(lines)
}
