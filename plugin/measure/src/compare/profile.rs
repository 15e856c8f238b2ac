//! What one file holds by itself: readings, word length, flat tops, its long-term spectrum, and the
//! features by which it is recognised. One reading of the file from end to end.

mod features;
mod words;

pub(super) use features::{FEATURE_BANDS, Features, HOPS_A_SECOND};

use super::Source;
use super::beside::{Outlet, beside};
use super::levels::LevelSet;
use super::play::{Held, Window};
use super::record::FileFacts;
use super::spectra::{MeanSpectrum, Welch};
use crate::Meter;
use crate::flat_tops::{FlatTops, MOST_FRAMES, full_scale};
use crate::peak::Overs;
use crate::settings::{Edges, Settings, View};
use features::FeatureBook;
use words::Words;

/// How many steps of its words a file's top is high before flat tops are told of it. Lower ones have
/// neighbours of equal height by chance.
const LEAST_STEPS: f32 = 1024.0;
/// Frames taken at a time.
const CHUNK_FRAMES: usize = 8192;

/// What a file holds.
pub(super) struct Profile {
    pub facts: FileFacts,
    pub levels: LevelSet,
    pub features: Features,
    pub spectrum: MeanSpectrum,
    /// Largest magnitude of a sample.
    pub peak: f64,
    /// The samples, where they are few enough to be held.
    pub held: Option<Held>,
}

/// Reads a file from end to end. `lowest_rate_hz` is the lower of the rates of the two files.
pub(super) fn take<S: Source>(
    source: &mut S,
    edges: Edges,
    lowest_rate_hz: f64,
) -> Result<Profile, S::Error> {
    // A rate that cannot be measured, or too many channels, leave the readings out.
    let settings = Settings { edges, ..Settings::default() };
    let rate_hz = f64::from(source.rate_hz());
    let mut meter = Meter::for_channels(rate_hz, &source.roles(), settings).ok();
    meter.iter_mut().for_each(Meter::draw_at_the_end);
    let measure = |block: &mut Vec<Vec<f32>>| {
        if let Some(meter) = &mut meter {
            let main: Vec<&[f32]> = block.iter().map(Vec::as_slice).collect();
            meter.process(&main, &[]);
        }
    };
    let read = beside(measure, |meter| read(source, lowest_rate_hz, meter))?;
    let levels = meter.map_or_else(LevelSet::default, |mut meter| {
        meter.finish();
        LevelSet::of(&meter.reading(&View::default()))
    });
    Ok(Profile { levels, ..read })
}

/// Everything but the levels, for which each block is given to a meter.
fn read<S: Source>(
    source: &mut S,
    lowest_rate_hz: f64,
    meter: Outlet<Vec<Vec<f32>>>,
) -> Result<Profile, S::Error> {
    let (rate, channels, stated_bits) = (source.rate_hz(), source.channels(), source.bits());
    let rate_hz = f64::from(rate);
    let mut window = Window::holding(source)?;
    let mut features = FeatureBook::new(rate_hz, lowest_rate_hz, channels);
    let mut words = Words::default();
    let mut flats: Vec<FlatTops> = vec![FlatTops::new(stated_bits); channels];
    let mut overs = vec![Overs::default(); channels];
    let mut welch = Welch::new(rate_hz, channels);
    let mut chunk = vec![vec![0.0; CHUNK_FRAMES]; channels];
    let mut singles = vec![vec![0f32; CHUNK_FRAMES]; channels];
    let (mut frames, mut first_sound) = (0u64, None);
    loop {
        let end = frames + CHUNK_FRAMES as u64;
        window.show(frames as i64, end as i64)?;
        let end = window.known_end().map_or(end, |known| known.min(end));
        let count = (end - frames) as usize;
        if count == 0 {
            break;
        }
        for (index, channel) in chunk.iter_mut().enumerate() {
            channel.resize(count, 0.0);
            window.copy(index, frames as i64, channel);
            words.take(channel);
            singles[index].resize(count, 0.0);
            for (single, &sample) in singles[index].iter_mut().zip(channel.iter()) {
                *single = sample as f32;
            }
            for stretch in singles[index].chunks(MOST_FRAMES) {
                let largest = stretch.iter().fold(0f32, |held, sample| held.max(sample.abs()));
                flats[index].take(stretch, largest);
                overs[index].take(stretch, full_scale(None));
            }
        }
        if first_sound.is_none() {
            let sounds = |n: &usize| chunk.iter().any(|channel| channel[*n] != 0.0);
            first_sound = (0..count).find(sounds).map(|n| frames + n as u64);
        }
        features.take(&chunk);
        welch.take(&chunk);
        meter.give(|block| block.clone_from(&singles));
        frames = end;
    }
    let peak = flats.iter().map(FlatTops::peak).fold(0.0, f32::max);
    Ok(Profile {
        facts: FileFacts {
            sample_rate_hz: rate,
            channels,
            frames,
            duration_s: frames as f64 / rate_hz,
            stated_bits,
            used_bits: words.bits(),
            overs: overs.iter().map(|overs| overs.count).sum(),
            flat_tops: flat_tops(&flats, words.bits()),
            invalid_frames: window.invalid_frames,
            silent_start_frames: first_sound.unwrap_or(frames),
            silent: first_sound.is_none(),
        },
        levels: LevelSet::default(),
        features: features.finish(),
        spectrum: welch.finish(),
        peak: f64::from(peak),
        held: window.into_held(),
    })
}

/// Flat tops at the top of a file whose samples are words of so many bits.
fn flat_tops(channels: &[FlatTops], used_bits: Option<u32>) -> u64 {
    let peak = channels.iter().map(FlatTops::peak).fold(0.0, f32::max);
    let step = used_bits.map_or(0.0, |bits| 0.5f32.powi(bits as i32 - 1));
    if peak < LEAST_STEPS * step {
        return 0;
    }
    channels.iter().map(|flats| flats.count(peak, f32::INFINITY)).sum()
}
