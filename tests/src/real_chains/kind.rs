//! A kind of chain: how it is made and what is true of it.

use std::io::Result;
use std::path::{Path, PathBuf};

use super::piece::Piece;
use super::tools;
use crate::memory::Memory;
use crate::wav;

/// A kind of chain.
pub struct Kind {
    /// Its name, as it is typed.
    pub name: &'static str,
    /// What was done, for people.
    pub done: &'static str,
    /// Sets of findings, by their codes: every finding of one set makes the answer right.
    pub named: &'static [&'static [&'static str]],
    /// Findings that are true as well, and no answer by themselves. Readings of the files
    /// ([`READINGS`](super::judge::READINGS)) are always allowed.
    pub allowed: &'static [&'static str],
    /// Makes mix and export.
    ///
    /// # Errors
    ///
    /// When a program fails or a file cannot be written.
    pub make: fn(&Scene) -> Result<Made>,
}

/// What a chain is made from, and where.
pub struct Scene<'a> {
    /// The mix.
    pub piece: &'a Piece,
    /// Another piece, for what comes from elsewhere.
    pub other: &'a Piece,
    /// Somebody speaking, one channel at the pieces' rate.
    pub voice: &'a Memory,
    /// A folder of its own.
    pub folder: &'a Path,
}

/// A mix and its export.
pub struct Made {
    /// File of the mix.
    pub mix: PathBuf,
    /// File of the export.
    pub export: PathBuf,
    /// What is true of them.
    pub facts: Facts,
}

/// What is true of an export, in numbers.
#[derive(Debug, Clone)]
pub struct Facts {
    /// Gain in dB; `None` where the chain has no single one.
    pub gain_db: Option<f64>,
    /// Delays that are true, in samples of the export; empty where the chain has no single one.
    pub delays_samples: Vec<f64>,
    /// How much faster the export plays, in per cent, and how exactly that is known.
    pub speed_percent: (f64, f64),
    /// Gains from each mix channel (column) to each export channel (row), where they are known.
    pub matrix: Option<Vec<Vec<f64>>>,
    /// Other numbers of findings.
    pub numbers: Vec<Number>,
}

/// A number that a finding may give.
#[derive(Debug, Clone)]
pub struct Number {
    /// The finding's code.
    pub code: &'static str,
    /// The number's name.
    pub name: &'static str,
    /// What it may be.
    pub values: Vec<f64>,
    /// By how much it may miss.
    pub within: f64,
}

/// One part in a million, in per cent.
const PPM: f64 = 1e-4;

impl Default for Facts {
    fn default() -> Self {
        Self {
            gain_db: Some(0.0),
            delays_samples: vec![0.0],
            speed_percent: (0.0, PPM),
            matrix: None,
            numbers: Vec::new(),
        }
    }
}

impl Made {
    /// The same with another gain.
    #[must_use]
    pub fn gain(mut self, db: f64) -> Self {
        self.facts.gain_db = Some(db);
        self
    }

    /// The same without a single gain.
    #[must_use]
    pub fn any_gain(mut self) -> Self {
        self.facts.gain_db = None;
        self
    }

    /// The same, late by one of these.
    #[must_use]
    pub fn late(mut self, samples: &[f64]) -> Self {
        self.facts.delays_samples = samples.to_vec();
        self
    }

    /// The same at another speed.
    #[must_use]
    pub fn faster(self, percent: f64) -> Self {
        self.faster_within(percent, PPM)
    }

    /// The same at another speed that is not known to a part in a million.
    #[must_use]
    pub fn faster_within(mut self, percent: f64, within: f64) -> Self {
        self.facts.speed_percent = (percent, within);
        self
    }

    /// The same with a matrix of channels.
    #[must_use]
    pub fn matrix(mut self, rows: &[&[f64]]) -> Self {
        self.facts.matrix = Some(rows.iter().map(|row| row.to_vec()).collect());
        self
    }

    /// The same with a number that has to be near a value where a finding gives it.
    #[must_use]
    pub fn number(self, code: &'static str, name: &'static str, value: f64, within: f64) -> Self {
        self.one_of(code, name, &[value], within)
    }

    /// The same with a number that has to be near one of several values where a finding gives it.
    #[must_use]
    pub fn one_of(
        mut self,
        code: &'static str,
        name: &'static str,
        values: &[f64],
        within: f64,
    ) -> Self {
        self.facts.numbers.push(Number { code, name, values: values.to_vec(), within });
        self
    }
}

impl Scene<'_> {
    /// The mix's samples.
    #[must_use]
    pub fn mix(&self) -> &Memory {
        &self.piece.sound
    }

    /// A file in the folder.
    #[must_use]
    pub fn file(&self, name: &str) -> PathBuf {
        self.folder.join(name)
    }

    /// These samples as the export, in words of 24 bits.
    ///
    /// # Errors
    ///
    /// When the file cannot be written.
    pub fn export(&self, sound: &Memory) -> Result<Made> {
        self.export_words(sound, 24)
    }

    /// These samples as the export, in words of so many bits, rounded where they are finer.
    ///
    /// # Errors
    ///
    /// When the file cannot be written.
    pub fn export_words(&self, sound: &Memory, bits: u16) -> Result<Made> {
        let export = self.file("export.wav");
        wav::write_words(&export, bits, sound)?;
        Ok(self.made(export))
    }

    /// These samples as a mix that is not the piece itself.
    ///
    /// # Errors
    ///
    /// When the file cannot be written.
    pub fn own_mix(&self, sound: &Memory) -> Result<PathBuf> {
        let mix = self.file("mix.wav");
        wav::write_words(&mix, 24, sound)?;
        Ok(mix)
    }

    /// The mix through filters of ffmpeg.
    ///
    /// # Errors
    ///
    /// When ffmpeg fails.
    pub fn ffmpeg(&self, filters: &str) -> Result<Made> {
        let export = self.file("export.wav");
        tools::ffmpeg(&self.piece.file, &["-af", filters, "-c:a", "pcm_s24le"], &export)?;
        Ok(self.made(export))
    }

    /// The mix through effects of sox.
    ///
    /// # Errors
    ///
    /// When sox fails.
    pub fn sox(&self, effects: &[&str]) -> Result<Made> {
        let export = self.file("export.wav");
        tools::sox(&self.piece.file, &["-b", "24"], &export, effects)?;
        Ok(self.made(export))
    }

    /// The mix through an encoder of ffmpeg, as the file that it writes.
    ///
    /// # Errors
    ///
    /// When ffmpeg fails.
    pub fn coded(&self, name: &str, options: &[&str]) -> Result<Made> {
        let export = self.file(name);
        tools::ffmpeg(&self.piece.file, options, &export)?;
        Ok(self.made(export))
    }

    /// The mix through an encoder of ffmpeg and back.
    ///
    /// # Errors
    ///
    /// When ffmpeg fails.
    pub fn decoded(&self, name: &str, options: &[&str]) -> Result<Made> {
        let coded = self.coded(name, options)?.export;
        let export = self.file("export.wav");
        tools::ffmpeg(&coded, &["-ar", "48000", "-c:a", "pcm_s24le"], &export)?;
        Ok(self.made(export))
    }

    /// The piece as the mix, and a file as its export.
    #[must_use]
    pub fn made(&self, export: PathBuf) -> Made {
        Made { mix: self.piece.file.clone(), export, facts: Facts::default() }
    }
}
