//! What `meter` takes.

use std::path::PathBuf;

use clap::Args;
use ledgerline_measure::sum_test::{NoiseKind, ShownReading};

use super::shown::reading;

/// Options of `meter`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  ledgerline meter --shown same=-4 --shown independent=-4 --shown alone=-10
  ledgerline meter --played schedule --shown alone=-24 same=-18 independent=-21 bursts-10=-31
  ledgerline meter --meter FOH alone=-10 same=-4 independent=-4 --meter Booth alone=-15 same=-9 \
independent=-12

Steps by number and name:
  1 alone, 2 other, 3 same, 4 inverted, 5 independent, 6 independent-inverted, 7 delayed,
  8 hidden-tone, 9 low-tone, 10 gaussian, 11 pink, 12 tone, 13 bursts-100, 14 bursts-10,
  15 bursts-1.5, 16 train

Of noises of one's own and of the loop there are steps 1 to 7. A file for --from has a meter a line,
as in 'FOH: alone=-10 same=-4 independent=-4'; what follows a # is a comment.

Exit status: 0 named, and nothing speaks against the sum, 1 the readings speak against the sum, 2 no
kind of meter explains them, or they could not be used.")]
pub struct MeterOptions {
    /// What one meter showed: step=dB, in the order in which it was read.
    #[arg(long, value_name = "STEP=DB", num_args = 1.., value_delimiter = ',',
        value_parser = reading)]
    pub shown: Vec<ShownReading>,
    /// One of several meters: its name, then what it showed; as often as there are meters.
    #[arg(long = "meter", value_names = ["NAME", "STEP=DB"], num_args = 1.., value_parser = word)]
    pub meters: Vec<Word>,
    /// Several meters from a file, one a line.
    #[arg(long, value_name = "FILE")]
    pub from: Option<PathBuf>,
    /// What was played: schedule, own or loop. Without it, own if noises alone were read.
    #[arg(long, value_name = "WHAT", value_parser = played)]
    pub played: Option<PlayedWord>,
    /// The kind of noise, where it was not the schedule: uniform, gaussian or pink.
    #[arg(long, value_name = "KIND", value_parser = noise)]
    pub noise: Option<NoiseKind>,
    /// Sample rate of the mixer in Hz.
    #[arg(long, value_name = "HZ", default_value_t = 48_000)]
    pub rate: u32,
    /// How finely the meters were read, in dB. Without it, 1 for whole numbers, else 0.1.
    #[arg(long, value_name = "DB", allow_negative_numbers = true)]
    pub resolution: Option<f64>,
    /// Print the record as JSON: an object, or an array if there are several meters.
    #[arg(long)]
    pub json: bool,
}

/// A word behind `--meter`.
#[derive(Debug, Clone)]
pub enum Word {
    /// The name of the next meter.
    Name(String),
    /// Readings of the meter that was named last.
    Readings(Vec<ShownReading>),
}

/// What was played, as it is typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PlayedWord {
    /// The sum test.
    Schedule,
    /// Noises of one's own.
    Own,
    /// The loop.
    Loop,
}

fn word(word: &str) -> Result<Word, String> {
    if !word.contains('=') {
        return Ok(Word::Name(word.trim().to_owned()));
    }
    readings(word).map(Word::Readings)
}

/// Readings with commas or blanks between them.
pub(crate) fn readings(words: &str) -> Result<Vec<ShownReading>, String> {
    let words = words.split(|c: char| c == ',' || c.is_whitespace());
    words.filter(|word| !word.is_empty()).map(reading).collect()
}

fn played(word: &str) -> Result<PlayedWord, String> {
    match word {
        "schedule" => Ok(PlayedWord::Schedule),
        "own" => Ok(PlayedWord::Own),
        "loop" => Ok(PlayedWord::Loop),
        _ => Err("schedule (the sum test), own (noises of your own) or loop".to_owned()),
    }
}

fn noise(word: &str) -> Result<NoiseKind, String> {
    let kind = NoiseKind::ALL.into_iter().find(|kind| kind.word().eq_ignore_ascii_case(word));
    kind.ok_or_else(|| "uniform, gaussian or pink".to_owned())
}
