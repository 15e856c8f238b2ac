//! Findings on the way the signal took: channels, polarity, rate, word length, bandwidth, coding.

use super::Facts;
use crate::compare::finding::Code;
use crate::compare::judge::words::samples;
use crate::compare::judge::{Said, said};
use crate::compare::record::{ChannelMap, Comparison, Dither, Polarity};
use crate::verdict::Severity;
use crate::words::{bits, fixed, frequency, level, list, precise_duration, signed};

/// Channels whose gains lie further apart than this, in dB, were not treated alike.
const BALANCE_DB: f64 = 0.05;
/// Residual against the export, in dB, below which gains are known without more ado.
const EXACT_DB: f64 = -50.0;
/// Mean square of a channel that is missed: −90 dBFS; and a gain that lets nothing of it through.
const MISSING_POWER: f64 = 1e-9;
const MISSING_GAIN: f64 = 1e-3;
/// Drift from which frequencies are others, in ppm.
const SPEED_PPM: f64 = 500.0;
/// An end of the spectrum from here on is a converter's, and hardly audible, in Hz.
const CONVERTER_HZ: f64 = 19_800.0;
/// How far a spectrum has to fall, in dB, to end there if the gain goes with the level.
const LIMITED_DB: f64 = 24.0;

pub(super) fn polarity(record: &Comparison) -> Option<Said> {
    match record.polarity? {
        Polarity::Same => None,
        Polarity::Inverted => Some(said(
            Code::PolarityInverted,
            Severity::Caution,
            "it is inverted",
            "Polarity is inverted in all channels.",
            &[],
        )),
        Polarity::Mixed => Some(said(
            Code::PolarityInverted,
            Severity::Fault,
            "some channels are inverted",
            "Polarity is inverted in some channels and not in others: what they share cancels in mono.",
            &[],
        )),
    }
}

pub(super) fn channels(record: &Comparison, facts: &Facts) -> Option<Said> {
    let map = record.channels?;
    let (mix, export) = (record.mix.channels, record.export.channels);
    let numbers = [("mix_channels", mix as f64), ("export_channels", export as f64)];
    let (severity, phrase, sentence) = match map {
        ChannelMap::Same if mix == export => return unbalanced(record, facts),
        ChannelMap::Same => (
            Severity::Note,
            format!("one channel became {export}"),
            format!("The mix's one channel plays in all {export} of the export."),
        ),
        ChannelMap::Swapped => (
            Severity::Fault,
            "left and right are swapped".to_owned(),
            "Left and right changed places.".to_owned(),
        ),
        ChannelMap::MonoFold => (
            Severity::Fault,
            "it was folded to mono".to_owned(),
            format!(
                "The {mix} channels were folded to mono{}.",
                if export == 1 { "" } else { ", the same in all channels" }
            ),
        ),
        ChannelMap::LeftOnly | ChannelMap::RightOnly if mix == 1 => (
            Severity::Fault,
            "one side is silent".to_owned(),
            format!(
                "The mix's one channel plays on the {} only.",
                if map == ChannelMap::LeftOnly { "left" } else { "right" }
            ),
        ),
        ChannelMap::LeftOnly => (
            Severity::Fault,
            "only the left channel is there".to_owned(),
            "Only the left channel of the mix is in the export; the right one was dropped."
                .to_owned(),
        ),
        ChannelMap::RightOnly => (
            Severity::Fault,
            "only the right channel is there".to_owned(),
            "Only the right channel of the mix is in the export; the left one was dropped."
                .to_owned(),
        ),
        ChannelMap::Other if !facts.matrix_holds => (
            Severity::Caution,
            "its channels are made of the mix's in a way that cannot be told".to_owned(),
            "The export's channels are made of the mix's in a way that no gains explain: how cannot be \
             told."
                .to_owned(),
        ),
        ChannelMap::Other if is_permutation(&record.channel_gains) => (
            Severity::Fault,
            "its channels stand in another order".to_owned(),
            format!("The channels stand in another order: {}.", matrix(record)),
        ),
        ChannelMap::Other if mix > 2 && export <= 2 => (
            Severity::Note,
            format!("its {mix} channels were folded to {export}"),
            format!("The {mix} channels were folded down: {}.", matrix(record)),
        ),
        ChannelMap::Other => (
            Severity::Fault,
            if mix == export {
                "channels are mixed".into()
            } else {
                format!("{mix} channels became {export}")
            },
            format!("The export's channels are mixed from the mix's: {}.", matrix(record)),
        ),
    };
    let cannot_tell = map == ChannelMap::Other && !facts.matrix_holds;
    let code = match map {
        ChannelMap::Other if cannot_tell => Code::Unexplained,
        ChannelMap::Other if is_permutation(&record.channel_gains) => Code::ChannelOrder,
        ChannelMap::Other if mix > 2 && export <= 2 => Code::Downmix,
        _ => Code::ChannelsChanged,
    };
    Some(said(code, severity, phrase, sentence, &numbers))
}

/// Whether every export channel is one of the mix's, at one gain, and every other one of them.
fn is_permutation(gains: &[Vec<f64>]) -> bool {
    const ALIKE: f64 = 0.01;
    let strongest = gains.iter().flatten().fold(0f64, |held, gain| held.max(gain.abs()));
    let taken: Option<Vec<usize>> = gains
        .iter()
        .map(|row| {
            let parts: Vec<usize> =
                (0..row.len()).filter(|n| row[*n].abs() > ALIKE * strongest).collect();
            let one = parts.first().filter(|_| parts.len() == 1)?;
            ((row[*one] / strongest).abs() > 1.0 - ALIKE).then_some(*one)
        })
        .collect();
    let Some(mut taken) = taken else { return false };
    taken.sort_unstable();
    taken.windows(2).all(|pair| pair[0] != pair[1])
        && gains.first().is_some_and(|row| row.len() == gains.len())
}

/// Channels of the mix that are in none of the export's.
pub(super) fn missing(record: &Comparison, facts: &Facts) -> Option<Said> {
    // Fewer channels, or a fold, are told as that.
    if record.mix.channels != record.export.channels || record.mix.channels < 3 {
        return None;
    }
    let is_missing = |channel: &usize| {
        let gain = |row: &Vec<f64>| row.get(*channel).copied().unwrap_or(0.0);
        facts.mix_powers[*channel] > MISSING_POWER
            && record.channel_gains.iter().all(|row| gain(row).abs() < MISSING_GAIN)
    };
    let missing: Vec<usize> = (0..facts.mix_powers.len()).filter(is_missing).collect();
    let first = *missing.first()?;
    let named: Vec<String> = missing.iter().map(|channel| (channel + 1).to_string()).collect();
    let named = list(&named);
    let (channels, are) = if missing.len() == 1 { ("Channel", "is") } else { ("Channels", "are") };
    let dbfs = 10.0 * facts.mix_powers[first].log10();
    Some(said(
        Code::ChannelMissing,
        Severity::Fault,
        format!("{} {named} of the mix {are} missing", channels.to_lowercase()),
        format!(
            "{channels} {named} of the mix {are} in none of the export's: {} dBFS RMS are lost there.",
            fixed(dbfs, 1)
        ),
        &[("channel", first as f64), ("lost_dbfs", dbfs)],
    ))
}

/// The matrix in words: "1 = 1.00·1 + 0.71·3; 2 = …".
fn matrix(record: &Comparison) -> String {
    const LEAST: f64 = 0.005;
    const MOST_ROWS: usize = 8;
    let row = |(out, gains): (usize, &Vec<f64>)| {
        let parts: Vec<String> = gains
            .iter()
            .enumerate()
            .filter(|(_, gain)| gain.abs() >= LEAST)
            .map(|(channel, gain)| format!("{}·{}", fixed(*gain, 3), channel + 1))
            .collect();
        let sum = if parts.is_empty() { "silent".to_owned() } else { parts.join(" + ") };
        format!("{} = {sum}", out + 1)
    };
    let rows = record.channel_gains.iter().enumerate().take(MOST_ROWS).map(row);
    rows.collect::<Vec<_>>().join("; ")
}

/// Channels that are late against the earliest.
pub(super) fn channel_delay(record: &Comparison) -> Option<Said> {
    let delays = &record.channel_delays_samples;
    let late: Vec<(usize, f64)> =
        delays.iter().copied().enumerate().filter(|(_, delay)| *delay != 0.0).collect();
    let (channel, delay) = *late.iter().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
    let rate_hz = f64::from(record.export.sample_rate_hz);
    let each: Vec<String> = late
        .iter()
        .map(|(channel, delay)| {
            format!(
                "channel {} is {} {} ({})",
                channel + 1,
                samples(*delay),
                if *delay > 0.0 { "late" } else { "early" },
                precise_duration(delay.abs() / rate_hz)
            )
        })
        .collect();
    Some(said(
        Code::ChannelDelay,
        Severity::Fault,
        each[0].clone(),
        format!("The channels do not come together: {} against the others.", list(&each)),
        &[("channel", channel as f64), ("delay_samples", delay)],
    ))
}

/// Channels in their places at gains that differ.
fn unbalanced(record: &Comparison, facts: &Facts) -> Option<Said> {
    // Each channel's own filter, or a gain that moves, leaves no one gain of a channel.
    let tone = &facts.stories.tone;
    let errors = tone.gains_db.iter().map(|gain| gain.map_or(f64::INFINITY, |gain| gain.1));
    let error_db = errors.fold(0.0, f64::max);
    let is_exact = record
        .residual
        .is_some_and(|residual| residual.relative_db.db().is_none_or(|db| db < EXACT_DB));
    if facts.limited || (!is_exact && error_db > BALANCE_DB) {
        return None;
    }
    let gains_db: Vec<f64> = record
        .channel_gains
        .iter()
        .enumerate()
        .filter_map(|(channel, row)| row.get(channel))
        .filter(|gain| **gain != 0.0)
        .map(|gain| 20.0 * gain.abs().log10())
        .collect();
    let highest = gains_db.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let lowest = gains_db.iter().copied().fold(f64::INFINITY, f64::min);
    // Where the gain depends on the level, that of each channel does too.
    let spread_db = record.dynamics.map_or(0.0, |dynamics| dynamics.spread_db);
    if highest - lowest < BALANCE_DB.max(spread_db) || highest - lowest > 60.0 {
        return None;
    }
    let parts: Vec<String> = gains_db
        .iter()
        .enumerate()
        .map(|(channel, db)| format!("{} dB in channel {}", signed(*db, 2), channel + 1))
        .collect();
    Some(said(
        Code::ChannelsChanged,
        Severity::Caution,
        format!("the balance of the channels moved by {} dB", fixed(highest - lowest, 2)),
        format!("The channels' gains differ: {}.", list(&parts)),
        &[("difference_db", highest - lowest)],
    ))
}

pub(super) fn band_limited(record: &Comparison, facts: &Facts) -> Option<Said> {
    // Where loud moments are turned down, what only they hold seems to be filtered.
    let least_db = if facts.limited { LIMITED_DB } else { 0.0 };
    let limit = record
        .band_limit
        .filter(|limit| limit.above_db.finite().is_none_or(|db| -db >= least_db))?;
    // At another speed the spectrum ends elsewhere by that alone.
    record.alignment.filter(|at| at.drift_ppm.abs() < SPEED_PPM)?;
    let severity = if limit.hz >= CONVERTER_HZ { Severity::Note } else { Severity::Caution };
    let down = match limit.above_db.finite() {
        Some(db) if db > -90.0 => format!("{} dB down above", fixed(-db, 0)),
        _ => "with nothing above".to_owned(),
    };
    Some(said(
        Code::BandLimited,
        severity,
        format!("its spectrum ends at {}", frequency(limit.hz)),
        format!(
            "The export's spectrum ends at {}, {down}; the mix goes on to {}, with {} dBFS there.",
            frequency(limit.hz),
            frequency(limit.mix_end_hz),
            level(limit.lost_dbfs, 1)
        ),
        &[
            ("hz", limit.hz),
            ("above_db", limit.above_db.finite().unwrap_or(f64::NAN)),
            ("lost_dbfs", limit.lost_dbfs.finite().unwrap_or(f64::NAN)),
            ("mix_end_hz", limit.mix_end_hz),
        ],
    ))
}

pub(super) fn lossy(record: &Comparison, facts: &Facts) -> Option<Said> {
    let lossy = facts.lossy?;
    let residual = record.residual?;
    let relative_db = residual.relative_db.finite()?;
    let sure = if lossy.sure { "looks like" } else { "may come from" };
    Some(said(
        Code::LossyCoding,
        Severity::Note,
        format!("it {sure} lossy coding"),
        format!(
            "This {sure} lossy coding: noise that follows the sound {} dB below it{}, which no \
             gain, delay or filter explains.",
            fixed(-lossy.noise_db, 0),
            record
                .band_limit
                .map_or(String::new(), |limit| format!(", and an end at {}", frequency(limit.hz)))
        ),
        &[("noise_db", lossy.noise_db), ("relative_db", relative_db)],
    ))
}

pub(super) fn rate(record: &Comparison) -> Option<Said> {
    record.rate_converted.then(|| {
        let [mix, export] =
            [record.mix, record.export].map(|facts| f64::from(facts.sample_rate_hz));
        let [from, to] = [mix, export].map(frequency);
        said(
            Code::RateConverted,
            Severity::Note,
            format!("it was converted from {from} to {to}"),
            format!("The sample rate was converted from {from} to {to}."),
            &[("mix_hz", mix), ("export_hz", export)],
        )
    })
}

pub(super) fn word_length(record: &Comparison) -> Option<Said> {
    let words = record.words?;
    let Some(dither) = words.dither else { return container(record) };
    let from = bits(words.mix_bits);
    let to = words.export_bits;
    let severity = match dither {
        Dither::Plain | Dither::Truncated => Severity::Caution,
        Dither::Rectangular | Dither::Triangular | Dither::Shaped | Dither::CannotTell => {
            Severity::Note
        }
    };
    let how = match dither {
        Dither::CannotTell => "how cannot be told, for more than rounding is left",
        told => told.word(),
    };
    let levels = match (words.measured_dbfs.finite(), words.expected_dbfs.finite()) {
        (Some(measured), Some(expected)) => format!(
            "; its noise is {} dBFS, where {} dBFS belong to it",
            fixed(measured, 1),
            fixed(expected, 1)
        ),
        (Some(measured), None) if dither == Dither::Shaped => {
            format!("; its noise is {} dBFS", fixed(measured, 1))
        }
        _ => String::new(),
    };
    let same = words.mix_bits == Some(to);
    // What cannot be told is not worth a place in the one sentence.
    let phrase = match dither {
        Dither::CannotTell => String::new(),
        _ => format!("it has {to} bits, {how}"),
    };
    let sentence = if same {
        format!("The {to}-bit words were made anew, {how}{levels}.")
    } else {
        format!("The word was shortened from {from} to {to} bits, {how}{levels}.")
    };
    Some(said(
        Code::WordLength,
        severity,
        phrase,
        sentence,
        &[
            ("mix_bits", words.mix_bits.map_or(f64::NAN, f64::from)),
            ("export_bits", f64::from(to)),
            ("measured_dbfs", words.measured_dbfs.finite().unwrap_or(f64::NAN)),
            ("expected_dbfs", words.expected_dbfs.finite().unwrap_or(f64::NAN)),
        ],
    ))
}

/// The same bits in a container of another length.
fn container(record: &Comparison) -> Option<Said> {
    let (mix, export) = (record.mix.stated_bits, record.export.stated_bits);
    if mix == export || record.mix.used_bits != record.export.used_bits {
        return None;
    }
    let used = record.export.used_bits?;
    Some(said(
        Code::WordLength,
        Severity::Note,
        "",
        format!(
            "The container went from {} to {}; both use {used} bits, so nothing was lost.",
            bits(mix),
            bits(export)
        ),
        &[("used_bits", f64::from(used))],
    ))
}
