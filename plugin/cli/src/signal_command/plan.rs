//! What is to be written: what was typed, once it makes sense.

use anyhow::{Result, bail, ensure};
use ledgerline_measure::sum_test::pattern::{EACH_RANGE_S, USUAL_EACH_S};
use ledgerline_measure::sum_test::schedule::{LONGEST_SLOT_S, RATE_RANGE_HZ, SLOT_GRID_S};
use ledgerline_measure::sum_test::{Form, NoiseKind, Pattern, Schedule};

use crate::options::SignalOptions;

/// The names of the files of each plan: for the first channel, for the second, for both.
pub(super) const KINDS: [[&str; 3]; 3] = [
    ["feed-1.wav", "feed-2.wav", "feeds-stereo.wav"],
    ["loop-1.wav", "loop-2.wav", "loop-stereo.wav"],
    ["noise-1.wav", "noise-2.wav", "noises-stereo.wav"],
];

/// The longest files of a loop or of noises, in minutes.
const MOST_MINUTES: f64 = 10.0;
/// How long the noises are unless set, in minutes.
const USUAL_MINUTES: f64 = 1.0;
/// The shortest files, in minutes: a meter that holds peaks has to have some to hold.
const LEAST_MINUTES: f64 = 0.05;

/// What is to be written.
pub(super) enum Plan {
    /// The test.
    Test(Schedule),
    /// The loop, so many rounds of it.
    Loop {
        /// What plays.
        pattern: Pattern,
        /// How often all pairs play.
        rounds: u64,
    },
    /// Two noises.
    Pairs {
        /// The loop that is made of the same noises.
        pattern: Pattern,
        /// Their length.
        frames: u64,
    },
}

impl Plan {
    /// What the options ask for.
    ///
    /// # Errors
    ///
    /// A sentence that says what to type instead, where they contradict each other or ask for what
    /// cannot be played.
    pub(super) fn of(options: &SignalOptions) -> Result<Self> {
        let SignalOptions { rate, short, pace, repeats, each, pairs, noise, minutes, .. } =
            *options;
        ensure!(
            (RATE_RANGE_HZ.0..=RATE_RANGE_HZ.1).contains(&rate),
            "the sum test exists from {} to {} Hz, not at {rate} Hz",
            RATE_RANGE_HZ.0,
            RATE_RANGE_HZ.1,
        );
        ensure!(
            !(repeats && pairs),
            "--loop and --pairs write different files: give one of the two"
        );
        let test = !repeats && !pairs;
        ensure!(
            test || !short,
            "--short is a form of the test: leave it out, or leave out --loop and --pairs"
        );
        ensure!(
            test || pace.is_none(),
            "--pace is about the steps of the test: leave it out{}",
            if repeats { "; how long each pair of the loop plays is set by --each" } else { "" }
        );
        ensure!(
            repeats || each.is_none(),
            "--each is about the pairs of the loop: add --loop{}",
            if test { ", or set the test's pace by --pace" } else { " in place of --pairs" }
        );
        ensure!(
            !test || noise.is_none(),
            "the test has noises of its own: for --noise add --loop or --pairs"
        );
        ensure!(
            !test || minutes.is_none(),
            "the test is as long as its steps: slow it down by --pace, or for --minutes add --loop \
             or --pairs"
        );
        if test {
            return Self::test(rate, short, pace);
        }
        let noise = noise.map_or(NoiseKind::default(), Into::into);
        let each_s = each.unwrap_or(USUAL_EACH_S);
        let Some(pattern) = Pattern::new(rate, noise, each_s) else {
            let (least, most) = EACH_RANGE_S;
            bail!("each pair of the loop plays for {least} to {most} s, not for {each_s} s");
        };
        let minutes = minutes.map(checked_minutes).transpose()?;
        if pairs {
            let frames = 60.0 * minutes.unwrap_or(USUAL_MINUTES) * f64::from(rate);
            return Ok(Self::Pairs { pattern, frames: frames as u64 });
        }
        let round_s = pattern.cycle_frames() as f64 / f64::from(rate);
        let rounds = minutes.map_or(1, |minutes| (60.0 * minutes / round_s).max(1.0) as u64);
        Ok(Self::Loop { pattern, rounds })
    }

    fn test(rate: u32, short: bool, pace: Option<f64>) -> Result<Self> {
        let form = if short { Form::Short } else { Form::Full };
        let usual_s = form.usual_slot_s();
        let slot_s = pace.unwrap_or(usual_s);
        match Schedule::with(rate, form, slot_s) {
            Some(schedule) => Ok(Self::Test(schedule)),
            None => bail!(
                "a step of the {} begins every {usual_s} to {LONGEST_SLOT_S} s, in steps of \
                 {SLOT_GRID_S} s, not every {slot_s} s",
                if short { "short form" } else { "test" }
            ),
        }
    }

    /// The names of its files: for the first channel, for the second, for both.
    pub(super) fn files(&self) -> [&'static str; 3] {
        match self {
            Self::Test(_) => KINDS[0],
            Self::Loop { .. } => KINDS[1],
            Self::Pairs { .. } => KINDS[2],
        }
    }
}

fn checked_minutes(minutes: f64) -> Result<f64> {
    ensure!(
        (LEAST_MINUTES..=MOST_MINUTES).contains(&minutes),
        "files are {LEAST_MINUTES} to {MOST_MINUTES} minutes long, not {minutes}: let the player \
         repeat them for more, they have no seam"
    );
    Ok(minutes)
}

#[cfg(test)]
mod tests {
    use clap::Parser;

    use super::*;
    use crate::options::{Command, Task};

    #[test]
    fn what_contradicts_itself_is_refused_with_what_to_do() {
        for (options, says) in [
            (&["--loop", "--pairs"][..], "give one of the two"),
            (&["--loop", "--short"], "leave out --loop"),
            (&["--loop", "--pace", "15"], "by --each"),
            (&["--pairs", "--each", "6"], "--loop in place of --pairs"),
            (&["--each", "6"], "by --pace"),
            (&["--noise", "pink"], "add --loop or --pairs"),
            (&["--minutes", "2"], "by --pace"),
            (&["--pace", "4"], "4.75 to 60 s"),
            (&["--pace", "15.1"], "in steps of 0.25 s"),
            (&["--short", "--pace", "5"], "6.25 to 60 s"),
            (&["--loop", "--each", "1"], "2 to 120 s"),
            (&["--loop", "--each", "nan"], "2 to 120 s"),
            (&["--loop", "--minutes", "600"], "repeat them"),
            (&["--rate", "22050"], "44100 to 192000 Hz"),
        ] {
            let words = [&["ledgerline", "signal", "folder"], options].concat();
            let command = Command::try_parse_from(words).expect("words that the command takes");
            let Task::Signal(options) = &command.task else { panic!("another task") };
            let error = Plan::of(options).err().map(|error| error.to_string());
            assert!(error.as_deref().is_some_and(|e| e.contains(says)), "{says}: {error:?}");
        }
    }
}
