//! Findings on the signal itself: gain, dynamics, response, levels.

use super::super::words::moved;
use super::super::{Said, said};
use super::Facts;
use crate::compare::dynamics::gain_db;
use crate::compare::finding::Code;
use crate::compare::pass::CrossSpectra;
use crate::compare::record::{Comparison, Dynamics};
use crate::verdict::Severity;
use crate::words::{
    counted, distance, fixed, frequency, level, list, moment, share, signed, spoken,
};

/// A gain below is none, in dB.
const NO_GAIN_DB: f64 = 0.005;
/// Changes of readings that are worth a sentence, in LU and dB.
const LOUDNESS_LU: f64 = 0.1;
const TRUE_PEAK_DB: f64 = 0.1;
const TRUE_PEAK_CAUTION_DB: f64 = 0.5;
const HIDDEN_DB: f64 = 3.0;
/// Hidden content below is no news, in dBFS.
const HIDDEN_DBFS: f64 = -80.0;
/// How much less gain the loudest blocks get before a limiter is named, in dB.
const LIMITED_DB: f64 = -0.15;
/// The same within passages of a few seconds.
const WITHIN_DB: f64 = -0.1;
/// A limiter on peaks alone: how many blocks it turned down, how high they rank by level, and how
/// little the others move.
const PEAKS_BLOCKS: usize = 5;
const PEAKS_RANK: f64 = 0.85;
const PEAKS_SPREAD_DB: f64 = 0.1;
/// Reduction that has to be seen somewhere, in dB.
const LEAST_REDUCTION_DB: f64 = 0.3;
/// How much more the spread may be than what the level explains.
const GAIN_MOVES_DB: f64 = 0.3;
/// How far the response may move, in dB, before it is called changed, and where it is judged.
const RESPONSE_DB: f64 = 0.3;
const RESPONSE_HZ: (f64, f64) = (40.0, 12_000.0);
/// How far lossy coding moves the response by itself, in dB.
const CODED_DB: f64 = 3.0;
/// Coherence of a band in which the response is believed.
const BELIEVED: f64 = 0.8;
/// Residual against the export, in dB, that goes without saying.
const NEGLIGIBLE_DB: f64 = -80.0;
const CONVERTED_DB: f64 = -60.0;

pub(super) fn gain(record: &Comparison) -> Option<Said> {
    let db = record.gain_db.filter(|db| db.abs() >= NO_GAIN_DB)?;
    Some(said(
        Code::Gain,
        Severity::Note,
        format!("it is {}", moved(db)),
        format!("The export is {} than the mix.", moved(db)),
        &[("gain_db", db)],
    ))
}

pub(super) fn loudness(record: &Comparison) -> Option<Said> {
    let lu = record.loudness_change_lu.finite().filter(|lu| lu.abs() >= LOUDNESS_LU)?;
    Some(said(
        Code::Loudness,
        Severity::Note,
        "",
        format!(
            "Integrated loudness changes by {} LU, from {} to {} LUFS.",
            signed(lu, 1),
            level(record.levels.mix.integrated_lufs, 1),
            level(record.levels.export.integrated_lufs, 1)
        ),
        &[("change_lu", lu)],
    ))
}

pub(super) fn true_peak(record: &Comparison) -> Option<Said> {
    let db = record.true_peak_change_db.finite().filter(|db| db.abs() >= TRUE_PEAK_DB)?;
    let beyond_gain_db = db - record.gain_db.unwrap_or(0.0);
    let severity =
        if beyond_gain_db >= TRUE_PEAK_CAUTION_DB { Severity::Caution } else { Severity::Note };
    Some(said(
        Code::TruePeak,
        severity,
        "",
        format!(
            "True peak changes by {} dB, from {} to {} dBTP.",
            signed(db, 1),
            level(record.levels.mix.true_peak_dbtp, 1),
            level(record.levels.export.true_peak_dbtp, 1)
        ),
        &[("change_db", db), ("beyond_gain_db", beyond_gain_db)],
    ))
}

pub(super) fn hidden(record: &Comparison) -> Option<Said> {
    let pairs = [
        ("above the audible band", record.levels.mix.above_dbfs, record.levels.export.above_dbfs),
        ("below the audible band", record.levels.mix.below_dbfs, record.levels.export.below_dbfs),
        ("DC", record.levels.mix.dc_dbfs, record.levels.export.dc_dbfs),
    ];
    let gain_db = record.gain_db.unwrap_or(0.0);
    let parts: Vec<String> = pairs
        .iter()
        .filter(|(_, mix, export)| {
            let [mix, export] = [mix, export].map(|level| level.finite().unwrap_or(-200.0));
            mix.max(export) > HIDDEN_DBFS && (export - mix - gain_db).abs() >= HIDDEN_DB
        })
        .map(|(name, mix, export)| {
            format!("{name}, from {} to {}", spoken(*mix, "dBFS"), spoken(*export, "dBFS"))
        })
        .collect();
    (!parts.is_empty()).then(|| {
        said(
            Code::Hidden,
            Severity::Note,
            "",
            format!("Hidden content changes: {}.", parts.join("; ")),
            &[],
        )
    })
}

pub(super) fn clipping(record: &Comparison) -> Option<Said> {
    let overs = record.overs_added.unwrap_or(0).max(0);
    let flats = record.clipped_runs_added.unwrap_or(0).max(0);
    if overs == 0 && flats == 0 {
        return None;
    }
    let mut parts = Vec::new();
    if overs > 0 {
        parts.push(counted(overs as u64, "over", "overs"));
    }
    if flats > 0 {
        parts.push(counted(flats as u64, "flat top", "flat tops"));
    }
    let what = list(&parts);
    Some(said(
        Code::Clipping,
        Severity::Fault,
        format!("{what} were added"),
        format!("The export adds {what}: it clips where the mix does not."),
        &[("overs_added", overs as f64), ("clipped_runs_added", flats as f64)],
    ))
}

/// Whether a limiter or compressor is the best explanation of the gains.
pub(super) fn is_limited(dynamics: &Dynamics, facts: &Facts) -> bool {
    // An equaliser makes the gains of blocks differ by what they are made of.
    let tilt = tilt_db(facts);
    let everywhere = dynamics.loud_gain_db <= LIMITED_DB.min(-tilt)
        && facts.within_passages_db.is_some_and(|db| db <= WITHIN_DB.min(-tilt));
    // One that works on a few peaks only hardly moves the loudest twentieth.
    let on_peaks = dynamics.spread_db < PEAKS_SPREAD_DB
        && facts.reduced.is_some_and(|(count, rank)| count >= PEAKS_BLOCKS && rank >= PEAKS_RANK);
    (everywhere || on_peaks) && dynamics.most_reduction_db >= LEAST_REDUCTION_DB
}

pub(super) fn limiting(record: &Comparison, facts: &Facts) -> Option<Said> {
    let dynamics = record.dynamics?;
    if !is_limited(&dynamics, facts) {
        return None;
    }
    let threshold = dynamics
        .threshold_dbfs
        .map_or(String::new(), |dbfs| format!(", above {} dBFS of the mix", fixed(dbfs, 1)));
    Some(said(
        Code::Limiting,
        Severity::Caution,
        format!("loud passages were turned down by up to {}", distance(dynamics.most_reduction_db)),
        format!(
            "A limiter or compressor worked{threshold}: up to {} at {}, {} dB in the loudest \
             twentieth, {} of the time by more than 0.5 dB.",
            distance(dynamics.most_reduction_db),
            moment(dynamics.most_reduction_s, 1),
            fixed(-dynamics.loud_gain_db, 1),
            share(Some(dynamics.reduced_share), 0)
        ),
        &[
            ("most_reduction_db", dynamics.most_reduction_db),
            ("at_s", dynamics.most_reduction_s),
            ("loud_gain_db", dynamics.loud_gain_db),
            ("quiet_gain_db", dynamics.quiet_gain_db),
            ("reduced_share", dynamics.reduced_share),
            ("threshold_dbfs", dynamics.threshold_dbfs.unwrap_or(f64::NAN)),
        ],
    ))
}

/// How much the response tilts within the band in which gains are judged, in dB.
fn tilt_db(facts: &Facts) -> f64 {
    let within = |hz: f64| (100.0..7_000.0).contains(&hz);
    let levels = facts.response.iter().filter(|(hz, _)| within(*hz)).map(|(_, db)| *db);
    let highest = levels.clone().fold(f64::NEG_INFINITY, f64::max);
    let lowest = levels.fold(f64::INFINITY, f64::min);
    if highest >= lowest { highest - lowest } else { 0.0 }
}

pub(super) fn gain_moves(record: &Comparison, facts: &Facts) -> Option<Said> {
    let dynamics = record.dynamics?;
    if is_limited(&dynamics, facts) || facts.lossy.is_some() {
        return None;
    }
    let range_db = slow_range_db(facts)?;
    if range_db < GAIN_MOVES_DB.max(tilt_db(facts)) {
        return None;
    }
    Some(said(
        Code::GainMoves,
        Severity::Caution,
        format!("its gain moves by {} over time", distance(range_db)),
        format!("The gain moves over time, by {}, and not with the level.", distance(range_db)),
        &[("range_db", range_db)],
    ))
}

/// Range of the gain over stretches of a second, without the outermost twentieths, in dB.
fn slow_range_db(facts: &Facts) -> Option<f64> {
    const BLOCKS: usize = 100;
    const LEAST_STRETCHES: usize = 5;
    let blocks: Vec<f64> = facts
        .passed
        .blocks
        .iter()
        .zip(facts.counts)
        .filter(|(_, counts)| **counts)
        .filter_map(|(block, _)| gain_db(block))
        .collect();
    let mut medians: Vec<f64> = blocks
        .chunks(BLOCKS)
        .filter_map(|chunk| crate::compare::fit::median(&mut chunk.to_vec()))
        .collect();
    if medians.len() < LEAST_STRETCHES {
        return None;
    }
    medians.sort_by(f64::total_cmp);
    let at = |share: f64| medians[(share * (medians.len() - 1) as f64).round() as usize];
    Some(at(0.95) - at(0.05))
}

/// The response from mix to export by third-octave, in dB against its median, where it can be
/// believed.
pub(super) fn response(spectra: &CrossSpectra) -> Vec<(f64, f64)> {
    let unexplained = spectra.unexplained();
    let half = 10f64.powf(0.05);
    let mut response: Vec<(f64, f64)> = (-14..=11)
        .map(|n| 1_000.0 * 10f64.powf(f64::from(n) / 10.0))
        .filter_map(|hz| {
            let (low, high) = (hz / half, hz * half);
            let predicted = spectra.power(&spectra.zz, low, high);
            let heard = spectra.power(&spectra.yy, low, high);
            let left = spectra.power(&unexplained, low, high);
            let believed = predicted > 1e-11 && heard > 0.0 && left < (1.0 - BELIEVED) * heard;
            believed.then(|| (hz, 10.0 * ((heard - left) / predicted).log10()))
        })
        .collect();
    let mut levels: Vec<f64> = response.iter().map(|(_, db)| *db).collect();
    let middle = crate::compare::fit::median(&mut levels).unwrap_or(0.0);
    response.iter_mut().for_each(|(_, db)| *db -= middle);
    response
}

pub(super) fn equalised(record: &Comparison, facts: &Facts) -> Option<Said> {
    let end_hz = record.band_limit_hz.unwrap_or(f64::INFINITY).min(RESPONSE_HZ.1) / 1.3;
    let within = |hz: f64| (RESPONSE_HZ.0..=end_hz).contains(&hz);
    let judged: Vec<(f64, f64)> =
        facts.response.iter().copied().filter(|(hz, _)| within(*hz)).collect();
    let highest = judged.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let lowest = judged.iter().copied().min_by(|a, b| a.1.total_cmp(&b.1))?;
    let range_db = highest.1 - lowest.1;
    // A limiter changes the spectrum as well, and so does a gain that moves while the sound does.
    let limited = record.dynamics.filter(|dynamics| is_limited(dynamics, facts));
    let moved_db = limited.map_or(0.0, |dynamics| 1.0 - dynamics.loud_gain_db)
        + slow_range_db(facts).filter(|db| *db >= GAIN_MOVES_DB).unwrap_or(0.0)
        + if facts.lossy.is_some() { CODED_DB } else { 0.0 };
    if range_db < RESPONSE_DB + moved_db {
        return None;
    }
    Some(said(
        Code::Equalised,
        Severity::Caution,
        format!("its frequency response moves by {}", distance(range_db)),
        format!(
            "The frequency response is not flat: {} dB at {}, {} dB at {}.",
            signed(highest.1, 1),
            frequency(highest.0),
            signed(lowest.1, 1),
            frequency(lowest.0)
        ),
        &[
            ("range_db", range_db),
            ("highest_hz", highest.0),
            ("highest_db", highest.1),
            ("lowest_hz", lowest.0),
            ("lowest_db", lowest.1),
        ],
    ))
}

/// What is left although nothing else was found that explains it.
pub(super) fn unexplained(record: &Comparison, facts: &Facts, others: &[Said]) -> Option<Said> {
    let residual = record.residual?;
    let relative_db = residual.relative_db.finite()?;
    let explains = |code: Code| {
        matches!(
            code,
            Code::Limiting | Code::LossyCoding | Code::Equalised | Code::GainMoves | Code::Clipping
        )
    };
    let explained = others.iter().any(|said| explains(said.finding.code));
    let in_band_db =
        residual.in_band_dbfs.finite()? - (residual.total_dbfs.finite()? - relative_db);
    // Converters differ by more than rounding does.
    let negligible_db = if record.rate_converted { CONVERTED_DB } else { NEGLIGIBLE_DB };
    if facts.is_rounding || explained || in_band_db < negligible_db {
        return None;
    }
    let dbfs = level(residual.in_band_dbfs, 1);
    Some(said(
        Code::Unexplained,
        Severity::Caution,
        format!("something else was added at {dbfs} dBFS"),
        format!(
            "The export differs by {dbfs} dBFS ({} dB below its sound) in a way that gain, delay \
             and rounding do not explain.",
            fixed(-in_band_db, 0)
        ),
        &[("residual_dbfs", residual.in_band_dbfs.finite()?), ("relative_db", in_band_db)],
    ))
}
