//! Findings on when things happen: edits, spots, delay and drift.

use super::sound;
use crate::compare::finding::Code;
use crate::compare::judge::words::{first_few, samples};
use crate::compare::judge::{Said, said};
use crate::compare::record::{Comparison, Edit, EditKind, Spot, SpotKind};
use crate::verdict::Severity;
use crate::words::{counted, duration, fixed, list, moment, precise_duration, signed};

/// A delay below is none, in samples, nor one within so many of its errors; and at another speed.
const NO_DELAY: f64 = 0.02;
const DELAY_ERRORS: f64 = 4.0;
const LEAST_AT_SPEED: f64 = 48.0;
/// How far what was added at the end may end from the export's end, in seconds.
const ADDED_S: f64 = 0.002;
/// What is left against the export, in dB, from which a place may waver.
const WAVERS_DB: f64 = -15.0;
/// A drift below is none, in ppm.
const LEAST_PPM: f64 = 0.05;
/// Drift that a file of an hour shows as a frame of picture, in ppm.
const DRIFT_FAULT_PPM: f64 = 10.0;
/// Drift that is no clock's any more but another speed, in ppm.
const SPEED_PPM: f64 = 2_000.0;

pub(super) fn edited(record: &Comparison) -> Option<Said> {
    let edits: Vec<&Edit> = record
        .edits
        .iter()
        .filter(|edit| !is_end(edit))
        .filter(|edit| {
            !matches!(edit.kind, EditKind::Moved | EditKind::Repeated | EditKind::Overlaid)
        })
        .collect();
    let first = edits.first()?;
    let named: Vec<String> =
        edits.iter().map(|edit| added_end(record, edit).unwrap_or_else(|| phrase(edit))).collect();
    Some(said(
        Code::Edited,
        Severity::Fault,
        if edits.len() == 1 {
            named[0].clone()
        } else {
            format!("it was edited in {} places", edits.len())
        },
        format!("The export was edited: {}.", first_few(&named)),
        &[
            ("edits", edits.len() as f64),
            ("mix_s", first.mix_s),
            ("export_s", first.export_s),
            ("length_s", first.length_s),
        ],
    ))
}

pub(super) fn reordered(record: &Comparison) -> Option<Said> {
    let moved: Vec<&Edit> =
        record.edits.iter().filter(|edit| edit.kind == EditKind::Moved).collect();
    let first = moved.first()?;
    let named: Vec<String> = moved.iter().map(|edit| phrase(edit)).collect();
    Some(said(
        Code::Reordered,
        Severity::Fault,
        "pieces stand in another order",
        format!("Pieces stand in another order: {}.", first_few(&named)),
        &[
            ("pieces", moved.len() as f64),
            ("mix_s", first.mix_s),
            ("export_s", first.export_s),
            ("length_s", first.length_s),
        ],
    ))
}

pub(super) fn repeated(record: &Comparison) -> Option<Said> {
    let repeated: Vec<&Edit> =
        record.edits.iter().filter(|edit| edit.kind == EditKind::Repeated).collect();
    let first = repeated.first()?;
    let named: Vec<String> = repeated.iter().map(|edit| phrase(edit)).collect();
    Some(said(
        Code::Repeated,
        Severity::Fault,
        if repeated.len() == 1 {
            named[0].clone()
        } else {
            format!("pieces are played twice in {} places", repeated.len())
        },
        format!("Sound is played twice: {}.", first_few(&named)),
        &[
            ("places", repeated.len() as f64),
            ("from_s", first.export_s),
            ("to_s", first.export_s + first.length_s),
            ("length_s", first.length_s),
        ],
    ))
}

fn is_end(edit: &Edit) -> bool {
    matches!(edit.kind, EditKind::StartTrimmed | EditKind::EndTrimmed)
}

/// What stands before the mix's beginning or behind its end, as the tail of an echo does.
fn added_end(record: &Comparison, edit: &Edit) -> Option<String> {
    let long = precise_duration(edit.length_s);
    let end_s = record.export.duration_s - edit.length_s;
    match edit.kind {
        EditKind::Inserted if edit.export_s == 0.0 => {
            Some(format!("{long} were added before the mix's beginning"))
        }
        EditKind::Inserted if (edit.export_s - end_s).abs() < ADDED_S => {
            Some(format!("{long} were added behind the mix's end"))
        }
        _ => None,
    }
}

fn phrase(edit: &Edit) -> String {
    let long = precise_duration(edit.length_s);
    let [mix, export] = [edit.mix_s, edit.export_s].map(|at_s| moment(at_s, 3));
    match edit.kind {
        EditKind::Removed => {
            format!("{long} were removed at {mix} of the mix ({export} of the export)")
        }
        EditKind::Inserted => format!("{long} were inserted at {export} of the export"),
        EditKind::Replaced => format!("{long} were replaced from {export} of the export on"),
        EditKind::Overlaid => {
            format!("something else was mixed over {long} from {export} of the export on")
        }
        EditKind::Silenced => format!("{long} were silenced from {export} of the export on"),
        EditKind::Moved => {
            format!("{long} from {mix} of the mix on come at {export} of the export")
        }
        EditKind::Repeated => format!("{long} are played twice at {export} of the export"),
        EditKind::StartTrimmed => format!("it begins {long} into the mix"),
        EditKind::EndTrimmed => format!("the last {long} of the mix are missing"),
    }
}

pub(super) fn trimmed(record: &Comparison) -> Option<Said> {
    let ends: Vec<String> = record.edits.iter().filter(|edit| is_end(edit)).map(phrase).collect();
    if ends.is_empty() {
        return None;
    }
    let of = |kind: EditKind| {
        let edit = record.edits.iter().find(|edit| edit.kind == kind);
        edit.map_or(0.0, |edit| edit.length_s)
    };
    Some(said(
        Code::Trimmed,
        Severity::Caution,
        list(&ends),
        format!("The export does not hold all of the mix: {}.", list(&ends)),
        &[("start_s", of(EditKind::StartTrimmed)), ("end_s", of(EditKind::EndTrimmed))],
    ))
}

/// The first spot of some kinds, and how many there are.
fn spots<'a>(record: &'a Comparison, kinds: &[SpotKind]) -> Option<(u64, &'a Spot)> {
    let first = record.spots.iter().find(|spot| kinds.contains(&spot.kind))?;
    Some((kinds.iter().map(|kind| record.spot_counts.of(*kind)).sum(), first))
}

fn where_from(spot: &Spot) -> String {
    format!(
        "{} at {} of the export (frame {}, channel {})",
        counted(u64::from(spot.samples), "sample", "samples"),
        moment(spot.export_s, 3),
        spot.export_frame,
        spot.channel + 1
    )
}

fn spot_numbers(count: u64, first: &Spot) -> [(&'static str, f64); 5] {
    [
        ("spots", count as f64),
        ("export_s", first.export_s),
        ("export_frame", first.export_frame as f64),
        ("samples", f64::from(first.samples)),
        ("error_dbfs", first.error_dbfs.finite().unwrap_or(f64::NAN)),
    ]
}

pub(super) fn dropouts(record: &Comparison) -> Option<Said> {
    let (count, first) = spots(record, &[SpotKind::Zeroed, SpotKind::Held])?;
    let counted = counted(count, "dropout", "dropouts");
    Some(said(
        Code::Dropout,
        Severity::Fault,
        format!("it has {counted}"),
        format!("{counted}: first {}, {} instead of sound.", where_from(first), first.kind.word()),
        &spot_numbers(count, first),
    ))
}

pub(super) fn wrong_samples(record: &Comparison) -> Option<Said> {
    let (count, first) = spots(record, &[SpotKind::Wrong, SpotKind::Clipped])?;
    let counted = counted(count, "wrong spot", "wrong spots");
    Some(said(
        Code::WrongSamples,
        Severity::Fault,
        format!("it has {counted}"),
        format!("{counted}: first {}, {}.", where_from(first), first.kind.word()),
        &spot_numbers(count, first),
    ))
}

pub(super) fn drift(record: &Comparison) -> Option<Said> {
    let at = record
        .alignment
        .filter(|at| at.drift_ppm.abs() >= LEAST_PPM.max(DELAY_ERRORS * at.drift_error_ppm))?;
    let word = if at.drift_ppm > 0.0 { "slower" } else { "faster" };
    let apart_s = at.drift_ppm * 1e-6 * record.mix.duration_s;
    if at.drift_ppm.abs() > SPEED_PPM {
        let percent = (1.0 / (1.0 + at.drift_ppm * 1e-6) - 1.0) * 100.0;
        return Some(said(
            Code::Speed,
            Severity::Fault,
            format!("it plays at another speed ({} %)", signed(percent, 2)),
            format!(
                "The export plays at another speed: {} %, and its pitch with it.",
                signed(percent, 3)
            ),
            &[("drift_ppm", at.drift_ppm), ("speed_percent", percent), ("pitch_kept", 0.0)],
        ));
    }
    let severity =
        if at.drift_ppm.abs() < DRIFT_FAULT_PPM { Severity::Caution } else { Severity::Fault };
    Some(said(
        Code::Drift,
        severity,
        format!("its clock runs {} ppm {word}", fixed(at.drift_ppm.abs(), 1)),
        format!(
            "The export plays {} ppm {word} than the mix: {} apart at the end.",
            fixed(at.drift_ppm.abs(), 2),
            duration(apart_s)
        ),
        &[("drift_ppm", at.drift_ppm), ("error_ppm", at.drift_error_ppm), ("apart_s", apart_s)],
    ))
}

pub(super) fn delay(record: &Comparison) -> Option<Said> {
    let at = record.alignment.filter(|at| {
        let least = if at.drift_ppm.abs() > SPEED_PPM { LEAST_AT_SPEED } else { NO_DELAY };
        at.delay_samples.abs() >= least.max(DELAY_ERRORS * at.delay_error_samples)
    })?;
    // Where much is left, sound that wavers has no place to a part of a sample.
    let wavers = sound::left_db(record).is_some_and(|db| db > WAVERS_DB);
    if wavers && at.delay_samples.fract() != 0.0 {
        return None;
    }
    let word = if at.delay_samples > 0.0 { "late" } else { "early" };
    let samples = samples(at.delay_samples);
    Some(said(
        Code::Delay,
        Severity::Note,
        format!("it is {samples} {word}"),
        format!("The export is {samples} {word} ({}).", precise_duration(at.delay_s)),
        &[
            ("delay_samples", at.delay_samples),
            ("delay_s", at.delay_s),
            ("error_samples", at.delay_error_samples),
        ],
    ))
}

pub(super) fn ambiguous(record: &Comparison) -> Option<Said> {
    record.alignment.filter(|at| at.ambiguous)?;
    Some(said(
        Code::DelayAmbiguous,
        Severity::Caution,
        "",
        "The sound repeats itself, so other delays fit as well: the smallest is given.",
        &[],
    ))
}
