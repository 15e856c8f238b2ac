//! What to do about a finding, in a sentence: from its code, its numbers and the purpose. Nothing
//! where nothing is to be done, and nothing that the numbers do not carry.

mod channels;
mod edits;

use crate::compare::finding::{Code, Finding};
use crate::compare::limits;
use crate::compare::purpose::Purpose;
use crate::compare::record::{Comparison, Dither};
use crate::words::{bits, fixed, frequency, moment};

/// The sound as it was made: 48 kHz played at 44.1 kHz, or the other way round, to within this share.
const SAME_RATE_SHARE: f64 = 0.001;
/// DC from here on is worth an action, in dBFS.
const DC_DBFS: f64 = -60.0;
/// A spectrum that ends within this share of half the rate ends there because of the rate.
const AT_THE_RATE: f64 = 0.85;

/// The sentence; `None` where there is nothing to do.
pub(super) fn of(finding: &Finding, record: &Comparison) -> Option<String> {
    let number = |name: &str| finding.numbers.get(name).copied();
    match finding.code {
        Code::PolarityInverted
        | Code::ChannelsChanged
        | Code::ChannelOrder
        | Code::Downmix
        | Code::ChannelMissing
        | Code::ChannelDelay => channels::of(finding, record),
        Code::Edited
        | Code::Reordered
        | Code::Repeated
        | Code::SecondProgramme
        | Code::Trimmed
        | Code::Dropout
        | Code::WrongSamples => edits::of(finding, record),
        Code::Clipping | Code::TruePeak => peaks(finding, record),
        Code::Speed | Code::Drift => speed(finding, record),
        Code::Ride | Code::Fade => ride(finding, record),
        code if code.is_of_dynamics() => {
            let range_db = limits::range_db(finding);
            record.tolerances.dynamics_db.filter(|most| range_db > *most)?;
            let what = match code {
                Code::Limiting => "without the limiter or compressor",
                Code::Normalised => "with loudness normalisation switched off",
                Code::Distorted => "without what saturates",
                _ => return Some("Look for a fader or automation behind the mix.".into()),
            };
            Some(format!("Export again {what}."))
        }
        Code::NotTheSame => Some(
            "Check that both files are of one programme, and that the right track is read.".into(),
        ),
        Code::Silence if record.export.silent && !record.mix.silent => {
            Some("Check what was routed to the export, and export again.".into())
        }
        Code::Silence if record.mix.silent && !record.export.silent => {
            Some("Check which file is the mix.".into())
        }
        Code::TooShort => Some("Compare a longer stretch.".into()),
        Code::InvalidInput if record.export.invalid_frames > record.mix.invalid_frames => {
            Some("Find what makes them, behind the mix, and export again.".into())
        }
        Code::InvalidInput => Some("Find what makes them in the mix.".into()),
        Code::Equalised => {
            let range_db = number("range_db").unwrap_or(f64::INFINITY);
            record.tolerances.response_db.filter(|most| range_db > *most)?;
            Some("Export again without what filters it.".into())
        }
        Code::AllPass if record.purpose != Purpose::Master => {
            Some("Export again without what turns its phase.".into())
        }
        Code::Reverb => Some("Export again without the reverberation.".into()),
        Code::NoiseAdded => {
            Some("Mute the mix and export again: what is left comes from behind it.".into())
        }
        Code::Denoised => Some("Export again without noise reduction.".into()),
        Code::BandLimited => band(number("hz")?, record),
        Code::LossyCoding => coding(record),
        Code::RateConverted if record.purpose == Purpose::Same => {
            Some(format!("Render at {}.", frequency(f64::from(record.mix.sample_rate_hz))))
        }
        Code::WordLength => word(record),
        Code::Gain => {
            let db = number("gain_db")?;
            record.tolerances.gain_db.filter(|most| db.abs() > *most)?;
            Some(level_by(-db))
        }
        Code::Hidden => {
            let dc =
                [record.levels.mix, record.levels.export].map(|levels| levels.dc_dbfs.finite());
            let rises = dc[1]? > DC_DBFS && dc[0].is_none_or(|mix_dbfs| mix_dbfs < DC_DBFS);
            rises.then(|| "Take the DC offset out where it comes in, behind the mix.".into())
        }
        Code::Delay => {
            let (samples, delay_s) = (number("delay_samples")?, number("delay_s")?);
            record.tolerances.delay_ms.filter(|most| delay_s.abs() * 1e3 > *most)?;
            let way = if samples > 0.0 { "earlier" } else { "later" };
            Some(format!("Move the export {} {way}.", super::words::samples(samples)))
        }
        Code::DelayAmbiguous => {
            Some("To tell the delay, compare sound that does not repeat itself.".into())
        }
        _ => None,
    }
}

/// Raise or turn down.
fn level_by(db: f64) -> String {
    let how = if db > 0.0 { "Raise the export" } else { "Turn the export down" };
    format!("{how} by {} dB.", fixed(db.abs(), 2))
}

/// At least so many decibels: a tenth more rather than less.
fn at_least(db: f64) -> String {
    format!("{} dB", fixed((db * 10.0).ceil() / 10.0, 1))
}

fn peaks(finding: &Finding, record: &Comparison) -> Option<String> {
    let number = |name: &str| finding.numbers.get(name).copied();
    let true_peak_db = record.levels.export.true_peak_dbtp.finite().filter(|db| *db > 0.0);
    let is_coded = record.purpose == Purpose::Lossy;
    let when = if is_coded { "before it is coded" } else { "before it is exported" };
    if finding.code == Code::TruePeak {
        let rises = number("change_db").is_some_and(|db| db > 0.0);
        let over_db = true_peak_db.filter(|_| rises)?;
        return Some(format!("Turn the mix down by at least {} {when}.", at_least(over_db)));
    }
    let over_db =
        number("over_db").map(|over_db| true_peak_db.map_or(over_db, |db| db.max(over_db)));
    match over_db.or(number("cut_db")) {
        Some(db) => Some(format!("Turn the mix down by at least {} {when}.", at_least(db))),
        None => Some(format!("Turn the mix down {when}.")),
    }
}

fn speed(finding: &Finding, record: &Comparison) -> Option<String> {
    let number = |name: &str| finding.numbers.get(name).copied();
    let Some(percent) = number("speed_percent") else {
        let ppm = number("drift_ppm")?;
        record.tolerances.drift_ppm.filter(|most| ppm.abs() > *most)?;
        let how = if ppm > 0.0 { "shorten" } else { "lengthen" };
        let by = fixed(ppm.abs(), 1);
        return Some(format!("Run both on one clock, or {how} the export by {by} ppm."));
    };
    let faster = 1.0 + percent / 100.0;
    let keeps_pitch = number("pitch_kept").is_some_and(|kept| kept > 0.0);
    let ratio = 48_000.0 / 44_100.0;
    let is_near = |of: f64| (faster / of - 1.0).abs() < SAME_RATE_SHARE;
    if !keeps_pitch && (is_near(ratio) || is_near(1.0 / ratio)) {
        let [made, plays] =
            if faster > 1.0 { ["44.1 kHz", "48 kHz"] } else { ["48 kHz", "44.1 kHz"] };
        return Some(format!(
            "Convert the rate: what looks like samples of {made} plays at {plays}."
        ));
    }
    let way = if percent > 0.0 { "faster" } else { "slower" };
    Some(format!("Export at the mix's speed: it plays {} % {way}.", fixed(percent.abs(), 2)))
}

fn ride(finding: &Finding, record: &Comparison) -> Option<String> {
    let number = |name: &str| finding.numbers.get(name).copied();
    let (from_s, to_s) = (number("from_s")?, number("to_s")?);
    let range_db = limits::range_db(finding);
    record.tolerances.dynamics_db.filter(|most| range_db > *most)?;
    let stretch = format!("{} to {}", moment(from_s, 1), moment(to_s, 1));
    if finding.code == Code::Fade {
        return Some(format!("Take out the fade from {stretch}."));
    }
    let change_db = number("change_db")?;
    let how = if change_db < 0.0 { "Raise" } else { "Turn down" };
    Some(format!("{how} {stretch} by {} dB.", fixed(change_db.abs(), 1)))
}

fn band(hz: f64, record: &Comparison) -> Option<String> {
    record.tolerances.band_hz.filter(|least| hz < *least)?;
    let [mix_hz, export_hz] =
        [record.mix, record.export].map(|file| f64::from(file.sample_rate_hz));
    if export_hz < mix_hz && hz > AT_THE_RATE * export_hz / 2.0 {
        return Some(format!("Render at {}.", frequency(mix_hz)));
    }
    if record.purpose == Purpose::Lossy {
        return Some("Code at a higher bit rate.".into());
    }
    Some(format!("Look for a low-pass or lossy coding near {}.", frequency(hz)))
}

fn coding(record: &Comparison) -> Option<String> {
    if record.purpose != Purpose::Lossy {
        return Some("Export again without lossy coding, if there was any.".into());
    }
    let most_db = record.tolerances.noise_db?;
    let is_outside = limits::noise_db(record).is_some_and(|noise_db| noise_db > most_db);
    is_outside.then(|| "Code at a higher bit rate.".into())
}

fn word(record: &Comparison) -> Option<String> {
    let words = record.words?;
    matches!(words.dither?, Dither::Plain | Dither::Truncated).then(|| {
        let to = bits(Some(words.export_bits));
        if words.mix_bits == Some(words.export_bits) {
            format!("Add dither where the {to} are made anew.")
        } else {
            format!(
                "Add dither where the word becomes {to}, or export in {}.",
                bits(words.mix_bits)
            )
        }
    })
}
