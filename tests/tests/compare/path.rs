//! Gain, delay, polarity, channels, rate, band, clock: what a path does to a signal as a whole.

use ledgerline_measure::compare::finding::Code;
use ledgerline_measure::compare::record::{ChannelMap, Polarity, Verdict};
use ledgerline_tests::chains;
use ledgerline_tests::memory::Memory;
use ledgerline_tests::signals::session;

use super::{Found, LONG, MIX, compared, gain};

#[test]
fn the_same_samples_are_identical_wherever_they_begin() {
    let found = compared(&MIX, &MIX);
    assert_eq!(found.verdict, Verdict::Identical);
    assert!(found.within);
    found.has_only(&[Code::Clean]);

    let late = MIX.each(|channel| [&vec![0.0; 1_234], channel].concat());
    let found = compared(&MIX, &late);
    assert_eq!(found.verdict, Verdict::Identical, "{}", found.sentence);
    assert_eq!(found.at().delay_samples, 1_234.0);

    let early = MIX.each(|channel| channel[1_000..].to_vec());
    let found = compared(&MIX, &early);
    assert_eq!(found.at().delay_samples, -1_000.0);
    assert_eq!(found.residual_dbfs.db(), Some(f64::NEG_INFINITY));
}

#[test]
fn gain_is_found_to_a_hundredth_of_a_decibel() {
    for db in [-1.37, 0.02, 6.0, -40.0] {
        let found = compared(&MIX, &MIX.map(|x| x * gain(db)));
        found.is_near("gain", found.gain_db, db, 0.001);
        assert_eq!(found.verdict, Verdict::GainOnly, "{}", found.sentence);
    }
}

#[test]
fn delay_is_found_to_a_hundredth_of_a_sample() {
    for samples in [123.37, 0.5, 4_000.01] {
        let found = compared(&MIX, &MIX.each(|channel| chains::delayed(channel, samples)));
        found.is_near("delay", Some(found.at().delay_samples), samples, 0.001);
        assert_eq!(found.at().drift_ppm, 0.0);
        // The end of a piece that breaks off rings beyond the band's edge; the rest is gone.
        let left = found.residual.and_then(|residual| residual.audible_dbfs.finite());
        assert!(left.is_some_and(|db| db < -120.0), "{left:?}");
    }
}

#[test]
fn a_clock_that_is_off_by_40_ppm_is_found_within_1_ppm() {
    let slow = MIX.each(|channel| chains::resampled(channel, 25_001, 25_000));
    let found = compared(&MIX, &slow);
    found.is_near("drift", Some(found.at().drift_ppm), 40.0, 0.01);
    found.is_near("delay", Some(found.at().delay_samples), 0.0, 0.01);
    found.has_only(&[Code::Drift]);
}

#[test]
fn polarity_and_channels_are_told() {
    let [left, right] = [&MIX.channels[0], &MIX.channels[1]];
    let silence = vec![0.0; MIX.frames()];
    let mono: Vec<f64> = left.iter().zip(right).map(|(a, b)| 0.5 * (a + b)).collect();
    let turned = |channel: &Vec<f64>| channel.iter().map(|x| -x).collect::<Vec<f64>>();
    let cases = [
        (vec![turned(left), turned(right)], ChannelMap::Same, Polarity::Inverted),
        (vec![left.clone(), turned(right)], ChannelMap::Same, Polarity::Mixed),
        (vec![right.clone(), left.clone()], ChannelMap::Swapped, Polarity::Same),
        (vec![mono.clone(), mono.clone()], ChannelMap::MonoFold, Polarity::Same),
        (vec![mono.clone()], ChannelMap::MonoFold, Polarity::Same),
        (vec![turned(&mono)], ChannelMap::MonoFold, Polarity::Inverted),
        (vec![left.clone(), silence.clone()], ChannelMap::LeftOnly, Polarity::Same),
        (vec![left.clone(), left.clone()], ChannelMap::LeftOnly, Polarity::Same),
        (vec![silence, right.clone()], ChannelMap::RightOnly, Polarity::Same),
        (vec![right.clone()], ChannelMap::RightOnly, Polarity::Same),
    ];
    for (channels, map, polarity) in cases {
        let found = compared(&MIX, &MIX.with(channels));
        assert_eq!(found.channels, Some(map), "{}", found.sentence);
        assert_eq!(found.polarity, Some(polarity), "{}", found.sentence);
        found.is_near("gain", found.gain_db, 0.0, 0.001);
        assert!(!found.within);
    }
}

#[test]
fn a_fold_from_six_channels_gives_its_matrix() {
    let voices: Vec<Memory> = (10..13).map(|seed| session::play(seed, 48_000, 12.0)).collect();
    let channels: Vec<Vec<f64>> =
        voices.iter().flat_map(|voice| voice.channels.clone()).map(scaled).collect();
    let mix = Memory::new(48_000, channels);
    let down = |main: usize, surround: usize| -> Vec<f64> {
        let at = |channel: usize, n: usize| mix.channels[channel][n];
        (0..mix.frames()).map(|n| at(main, n) + 0.7 * (at(2, n) + at(surround, n))).collect()
    };
    let found = compared(&mix, &mix.with(vec![down(0, 4), down(1, 5)]));
    assert_eq!(found.channels, Some(ChannelMap::Other), "{}", found.sentence);
    let expected = [[1.0, 0.0, 0.7, 0.0, 0.7, 0.0], [0.0, 1.0, 0.7, 0.0, 0.0, 0.7]];
    for (row, expected) in found.channel_gains.iter().zip(expected) {
        for (gain, expected) in row.iter().zip(expected) {
            assert!((gain - expected).abs() < 0.002, "{:?}", found.channel_gains);
        }
    }
}

fn scaled(channel: Vec<f64>) -> Vec<f64> {
    channel.into_iter().map(|x| 0.3 * x).collect()
}

#[test]
fn a_converted_rate_is_seen_through() {
    let mut export = MIX.each(|channel| chains::resampled(channel, 147, 160));
    export.rate_hz = 44_100;
    let found = compared(&MIX, &export);
    assert!(found.rate_converted);
    found.is_near("delay", Some(found.at().delay_samples), 0.0, 0.001);
    found.is_near("gain", found.gain_db, 0.0, 0.001);
    let left = found.residual.and_then(|residual| residual.in_band_dbfs.finite());
    assert!(left.is_some_and(|db| db < -120.0), "{left:?}");
    // The converter is a brick wall at half of 44.1 kHz, and the piece's cymbals go on.
    found.is_near("band limit", found.band_limit_hz, 22_050.0, 150.0);
    found.has_only(&[Code::RateConverted, Code::BandLimited]);
}

#[test]
fn the_end_of_a_spectrum_is_found_and_hidden_content_with_it() {
    for share in [16_000.0 / 48_000.0, 19_000.0 / 48_000.0] {
        let found = compared(&MIX, &MIX.each(|channel| chains::cut_off(channel, share)));
        found.is_near("band limit", found.band_limit_hz, share * 48_000.0, 100.0);
        found.is_near("gain", found.gain_db, 0.0, 0.01);
        assert!(found.codes().contains(&Code::BandLimited));
        assert!(!found.codes().contains(&Code::LossyCoding), "{}", found.sentence);
    }
    // A session at 96 kHz with content to the top, delivered at 48 kHz.
    let wide = session::play(5, 96_000, 16.0);
    let mut export = wide.each(|channel| chains::resampled(channel, 1, 2));
    export.rate_hz = 48_000;
    let found = compared(&wide, &export);
    found.is_near("band limit", found.band_limit_hz, 24_000.0, 150.0);
    found.is_near("gain", found.gain_db, 0.0, 0.01);
    assert!(found.codes().contains(&Code::Hidden), "{:?}", found.codes());
}

#[test]
fn chains_of_several_steps_are_taken_apart() {
    let softer = MIX.map(|x| x * gain(-2.5));
    let late = softer.each(|channel| chains::delayed(channel, 480.25));
    let converted = late.each(|channel| chains::resampled(channel, 147, 160));
    let mut export = chains::quantised(&converted, 16, 2);
    export.rate_hz = 44_100;
    let found = compared(&MIX, &export);
    found.is_near("gain", found.gain_db, -2.5, 0.001);
    found.is_near("delay", Some(found.at().delay_samples), 480.25 * 147.0 / 160.0, 0.001);
    found.has_only(&[
        Code::Gain,
        Code::Delay,
        Code::RateConverted,
        Code::BandLimited,
        Code::WordLength,
    ]);

    let limited = chains::limited(&LONG, 0.3, 0.05);
    let [left, right] = [0, 1].map(|channel| limited.channels[channel].clone());
    let found = compared(&LONG, &LONG.with(vec![right, left]));
    assert_eq!(found.channels, Some(ChannelMap::Swapped));
    assert!(found.codes().contains(&Code::Limiting), "{:?}", found.codes());
}
