//! The answer in words: what the meter reads, and what that means for a mix.

use super::played::Played;
use super::ranking::Standing;
use super::{Candidate, FurtherStep};
use crate::detector::{Detector, MeterKind};
use crate::sum_test::measured::BAND_WORDS;
use crate::sum_test::pattern::NoiseKind;
use crate::sum_test::step_names::step_name;
use crate::words::{distance, list};

/// Most kinds of meter that a sentence names.
const MOST_NAMED: usize = 4;
/// What else would show readings that never fall.
pub(super) const MAY_HOLD: &str = " A meter of another kind that holds its highest, and was not \
                                   cleared before each step, shows them too.";

/// What would part meters that readings do not.
#[derive(Debug, Clone, Copy)]
pub(super) enum Advice {
    /// Another step of the sum test that is being read.
    Step(FurtherStep),
    /// A step of the sum test, which is not being read.
    OfSumTest(FurtherStep),
    /// Another entry.
    Entries,
    /// More digits.
    Finer,
}

pub(super) fn sentence(best: &Candidate, together: &[MeterKind], advice: Advice) -> String {
    let consequence = consequence(together);
    match together {
        [] => format!(
            "No model explains these readings: the nearest, {}, misses them by {}. Check that \
             each was read in its own {} and that nothing else was playing.",
            describe(best.model),
            distance(best.misfit_db),
            if matches!(advice, Advice::Entries) { "entry" } else { "step" }
        ),
        [only] => format!("The meter reads {}: {consequence}.", describe(*only)),
        // A list that nobody would read to its end says less than its length.
        [first, second, ..] if together.len() > MOST_NAMED => format!(
            "These readings do not tell which meter it is: {} of {} kinds show them, such as {}, \
             and {}; {consequence}.{}",
            together.len(),
            MeterKind::all().count(),
            describe(*first),
            describe(*second),
            advised(advice)
        ),
        _ => {
            let list: Vec<String> = together.iter().map(|model| describe(*model)).collect();
            format!(
                "The meter reads {}; these readings do not tell which: {consequence}.{}",
                list.join(", or "),
                advised(advice)
            )
        }
    }
}

/// Which of several kinds of noise the readings leave, where that is fewer than it might be.
pub(super) fn noises(played: Played, standings: &[Standing]) -> String {
    let left = |kind: &NoiseKind| {
        standings.iter().any(|standing| standing.is_possible && standing.noise == Some(*kind))
    };
    let kinds: Vec<NoiseKind> = NoiseKind::ALL.into_iter().filter(left).collect();
    if played != Played::Own(None) || kinds.len() == NoiseKind::ALL.len() {
        return String::new();
    }
    let words: Vec<&str> = kinds.into_iter().map(NoiseKind::word).collect();
    format!(" The noise was {} then.", list(&words).replace(" and ", " or "))
}

fn describe(model: MeterKind) -> String {
    format!("{}, {}", model.detector.reads(), BAND_WORDS[model.band_index()])
}

fn advised(advice: Advice) -> String {
    match advice {
        Advice::Step(FurtherStep { step, apart_db }) if apart_db >= 0.05 => {
            let apart = distance(apart_db);
            format!(" Read step {step} too: there the two likeliest differ by {apart}.")
        }
        Advice::OfSumTest(FurtherStep { step, apart_db }) if apart_db >= 0.05 => format!(
            " Play the sum test and read its step {step} ({}) too: there the two likeliest differ \
             by {}.",
            step_name(step),
            distance(apart_db)
        ),
        Advice::Entries => " Type what it shows of another entry with a sound of another kind: \
                            tones, pink noise, something with peaks."
            .to_owned(),
        _ => " Read the same steps more finely to part them.".to_owned(),
    }
}

/// What such a meter can show of decorrelation and of hidden content.
fn consequence(together: &[MeterKind]) -> &'static str {
    let all = |test: fn(&MeterKind) -> bool| together.iter().all(test);
    if all(|model| model.detector == Detector::SamplePeak && !model.audible) {
        "it cannot show decorrelation, and it counts what is inaudible; such readings say nothing \
         against the summing"
    } else if all(|model| model.detector == Detector::SamplePeak) {
        "peaks tell little about decorrelation; such readings say nothing against the summing"
    } else if all(|model| model.detector.is_peak() && !model.audible) {
        "it follows peaks more than energy, and counts what is inaudible"
    } else if all(|model| model.detector.is_peak() && model.audible) {
        "it follows peaks more than energy, within the audible band"
    } else if all(|model| model.detector.is_peak()) {
        "it follows peaks more than energy"
    } else if all(|model| !model.detector.is_peak() && !model.audible) {
        "it shows decorrelation as the ear hears it, but counts what is inaudible"
    } else if all(|model| !model.detector.is_peak() && model.audible) {
        "it shows decorrelation as the ear hears it, within the audible band"
    } else if all(|model| !model.detector.is_peak()) {
        "it shows decorrelation as the ear hears it"
    } else {
        "whether it shows decorrelation stays open"
    }
}
