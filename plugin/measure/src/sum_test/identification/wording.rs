//! The answer in words: what the meter reads, and what that means for a mix.

use super::{Candidate, FurtherStep, Model};
use crate::detector::Detector;

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
            "No model explains these readings: the nearest, {}, misses them by {:.1} dB. Check \
             that each was read in its own step and that nothing else was playing.",
            describe(best.model),
            best.misfit_db
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
    let band = if model.band == 0 { "whole band" } else { "audible band" };
    format!("{}, {band}", model.detector.reads())
}

fn advice(further: Option<FurtherStep>) -> String {
    match further {
        Some(FurtherStep { step, apart_db }) if apart_db >= 0.05 => {
            format!(" Read step {step} too: there the two likeliest differ by {apart_db:.1} dB.")
        }
        _ => " Read the same steps more finely to part them.".to_owned(),
    }
}

/// What such a meter can show of decorrelation and of hidden content.
fn consequence(together: &[Model]) -> &'static str {
    let all = |test: fn(&Model) -> bool| together.iter().all(test);
    if all(|model| model.detector == Detector::SamplePeak && model.band == 0) {
        "it cannot show decorrelation, and it counts what nobody hears; such readings say nothing \
         against the summing"
    } else if all(|model| model.detector == Detector::SamplePeak) {
        "peaks tell little about decorrelation; such readings say nothing against the summing"
    } else if all(|model| model.detector.is_peak() && model.band == 0) {
        "it follows peaks more than energy, and counts what nobody hears"
    } else if all(|model| model.detector.is_peak() && model.band == 1) {
        "it follows peaks more than energy, within what can be heard"
    } else if all(|model| model.detector.is_peak()) {
        "it follows peaks more than energy"
    } else if all(|model| !model.detector.is_peak() && model.band == 0) {
        "it shows decorrelation as the ear hears it, but counts what nobody hears"
    } else if all(|model| !model.detector.is_peak() && model.band == 1) {
        "it shows decorrelation as the ear hears it, within what can be heard"
    } else if all(|model| !model.detector.is_peak()) {
        "it shows decorrelation as the ear hears it"
    } else {
        "whether it shows decorrelation stays open"
    }
}
