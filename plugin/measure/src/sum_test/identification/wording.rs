//! The answer in words: what the meter reads, and what that means for a mix.

use super::{Candidate, FurtherStep, Model};
use crate::detector::Detector;
use crate::sum_test::measured::BAND_WORDS;
use crate::words::distance;

/// Most kinds of meter that a sentence names.
const MOST_NAMED: usize = 4;

pub(super) fn sentence(
    best: &Candidate,
    together: &[Model],
    further: Option<FurtherStep>,
    explained: bool,
) -> String {
    if !explained {
        return format!(
            "No model explains these readings: the nearest, {}, misses them by {}. Check that \
             each was read in its own step and that nothing else was playing.",
            describe(best.model),
            distance(best.misfit_db)
        );
    }
    let consequence = consequence(together);
    match together {
        [only] => format!("The meter reads {}: {consequence}.", describe(*only)),
        // A list that nobody would read to its end says less than its length.
        [first, second, ..] if together.len() > MOST_NAMED => format!(
            "These readings do not tell which meter it is: {} of {} kinds show them, such as {}, \
             and {}; {consequence}.{}",
            together.len(),
            Model::all().count(),
            describe(*first),
            describe(*second),
            advice(further)
        ),
        _ => {
            let list: Vec<String> = together.iter().map(|model| describe(*model)).collect();
            format!(
                "The meter reads {}; these readings do not tell which: {consequence}.{}",
                list.join(", or "),
                advice(further)
            )
        }
    }
}

fn describe(model: Model) -> String {
    format!("{}, {}", model.detector.reads(), BAND_WORDS[model.band])
}

fn advice(further: Option<FurtherStep>) -> String {
    match further {
        Some(FurtherStep { step, apart_db }) if apart_db >= 0.05 => {
            let apart = distance(apart_db);
            format!(" Read step {step} too: there the two likeliest differ by {apart}.")
        }
        _ => " Read the same steps more finely to part them.".to_owned(),
    }
}

/// What such a meter can show of decorrelation and of hidden content.
fn consequence(together: &[Model]) -> &'static str {
    let all = |test: fn(&Model) -> bool| together.iter().all(test);
    if all(|model| model.detector == Detector::SamplePeak && model.band == 0) {
        "it cannot show decorrelation, and it counts what is inaudible; such readings say nothing \
         against the summing"
    } else if all(|model| model.detector == Detector::SamplePeak) {
        "peaks tell little about decorrelation; such readings say nothing against the summing"
    } else if all(|model| model.detector.is_peak() && model.band == 0) {
        "it follows peaks more than energy, and counts what is inaudible"
    } else if all(|model| model.detector.is_peak() && model.band == 1) {
        "it follows peaks more than energy, within the audible band"
    } else if all(|model| model.detector.is_peak()) {
        "it follows peaks more than energy"
    } else if all(|model| !model.detector.is_peak() && model.band == 0) {
        "it shows decorrelation as the ear hears it, but counts what is inaudible"
    } else if all(|model| !model.detector.is_peak() && model.band == 1) {
        "it shows decorrelation as the ear hears it, within the audible band"
    } else if all(|model| !model.detector.is_peak()) {
        "it shows decorrelation as the ear hears it"
    } else {
        "whether it shows decorrelation stays open"
    }
}
