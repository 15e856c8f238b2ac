//! Overs by the word that samples come in, counted a channel; and flat tops: what clipping left below
//! full scale. Oracle: how each signal was clipped and rounded.

use std::f64::consts::TAU;

use ledgerline_measure::{ChannelRole, Halves, Meter, Reading, Settings, View};
use ledgerline_tests::readings::{Checks, feed_channels};
use ledgerline_tests::signals::tone::{Sine, dc, silence};
use ledgerline_tests::signals::{amplitude, noise};

const RATE_HZ: f64 = 48_000.0;
const BUILT: &str = "how the signal was made";

fn read(word_bits: Option<u32>, channels: &[Vec<f32>]) -> Reading {
    let roles = vec![ChannelRole::Other; channels.len()];
    let mut meter = Meter::for_channels(RATE_HZ, &roles, Settings::default()).expect("a bus");
    meter.set_word_bits(word_bits);
    feed_channels(&mut meter, channels);
    meter.finish();
    meter.reading(&View::default())
}

/// Rounds to words of so many bits, and clips at their largest code on both sides.
fn rounded(signal: &[f32], bits: u32) -> Vec<f32> {
    let steps = f64::from(1u32 << (bits - 1));
    let word = |x: f32| (f64::from(x) * steps).round().clamp(1.0 - steps, steps - 1.0) / steps;
    signal.iter().map(|&x| word(x) as f32).collect()
}

fn sine(hz: f64, peak_dbfs: f64) -> Vec<f32> {
    Sine::new(hz, amplitude(peak_dbfs)).play(RATE_HZ, 1.0)
}

fn clipped(signal: &[f32], at: f32) -> Vec<f32> {
    signal.iter().map(|x| x.clamp(-at, at)).collect()
}

#[test]
fn full_scale_is_the_largest_code_of_the_word_on_either_side() {
    // A 100 Hz sine 1 dB over is clipped 200 times a second.
    for bits in [8, 16, 20, 24] {
        let word = rounded(&sine(100.0, 1.0), bits);
        let mut checks = Checks::of(format!("a clipped sine in {bits} bits"), BUILT);
        for (stated, expected) in [(Some(bits), 200), (Some(32), 0), (None, 0)] {
            let overs = read(stated, std::slice::from_ref(&word)).whole.bus.overs;
            checks.that(overs == Some(expected), &format!("{expected} as {stated:?}"), overs);
        }
        let quieter: Vec<f32> = word.iter().map(|x| x * 0.98).collect();
        let overs = read(Some(bits), &[quieter]).whole.bus.overs;
        checks.that(overs == Some(0), "none when turned down", overs);
    }
}

#[test]
fn overs_are_counted_in_each_channel_and_added_up() {
    let over = |starts: &[usize]| {
        let mut channel = vec![0.1; 48_000];
        starts.iter().for_each(|&start| channel[start..start + 10].fill(1.0));
        channel
    };
    // Two at the same frame, two that overlap, one alone.
    let channels = [over(&[4_800, 9_600]), over(&[4_800, 9_605, 14_400])];
    let reading = read(None, &channels);
    let mut checks = Checks::of("overs in both channels", BUILT);
    checks.that(reading.whole.a.overs == Some(2), "2 left", reading.whole.a.overs);
    checks.that(reading.whole.b.overs == Some(3), "3 right", reading.whole.b.overs);
    checks.that(reading.whole.bus.overs == Some(5), "5 on the bus", reading.whole.bus.overs);
    let times = reading.windows.over_times_s;
    let expected = [0.1, 0.2, 9_605.0 / 48_000.0, 0.3];
    checks.that(times.as_slice() == expected, &format!("{expected:?}"), times);
}

#[test]
fn flat_tops_are_counted_with_their_times_whatever_the_word_and_the_blocks() {
    for (name, signal, expected) in [
        ("1 kHz clipped by 6 dB", clipped(&sine(1_000.0, -6.0), 0.25), 2_000),
        ("997 Hz clipped by 1 dB", clipped(&sine(997.0, -3.0), amplitude(-4.0) as f32), 1_994),
        ("3.9 kHz clipped by 6 dB", clipped(&sine(3_900.0, -6.0), 0.25), 7_800),
        ("50 Hz clipped by 0.3 dB", clipped(&sine(50.0, -3.0), amplitude(-3.3) as f32), 100),
    ] {
        for (word, signal) in
            [(None, signal.clone()), (Some(16), rounded(&signal, 16)), (None, rounded(&signal, 24))]
        {
            let damage = read(word, &[signal]).damage;
            let mut checks = Checks::of(format!("{name}, {word:?}"), BUILT);
            // Of one too near to either end of the file it cannot be told.
            checks.number("flat tops", Some(damage.flat_tops as f64), f64::from(expected), 2.0);
            let times = damage.flat_top_times_s.as_slice();
            checks.that(times.len() == 8, "the latest eight", times);
            let rising = times.windows(2).all(|two| two[0] < two[1]);
            checks.that(rising && times[0] > 0.9, "in order, up to the end", times);
        }
    }
    let mut channel = sine(300.0, -12.0);
    let top = channel[24_000..24_080].iter().copied().fold(0.0, f32::max) * 0.9;
    let once: Vec<f32> = (0..48_000)
        .map(|n| if (24_000..24_080).contains(&n) { channel[n].min(top) } else { channel[n] * 0.5 })
        .collect();
    channel = once;
    for block_frames in [1, 17, 64, 100, 48_000] {
        let settings = Settings { halves: Halves::Mono, ..Settings::default() };
        let mut meter = Meter::new(RATE_HZ, 1, 0, settings).expect("one channel");
        channel.chunks(block_frames).for_each(|block| meter.process(&[block], &[]));
        meter.finish();
        let damage = meter.reading(&View::default()).damage;
        let mut checks = Checks::of(format!("one flat top, blocks of {block_frames}"), BUILT);
        checks.that(damage.flat_tops == 1, "one", damage);
        let begins = channel.iter().position(|&x| x == top).map_or(0.0, |n| n as f64 / RATE_HZ);
        checks.that(damage.flat_top_times_s.as_slice() == [begins], "its time", damage);
    }
}

#[test]
fn what_is_only_rounded_dithered_or_still_has_no_flat_tops() {
    let low: Vec<f32> = sine(20.0, -6.0);
    let swell: Vec<f32> = (0..48_000)
        .map(|n| f64::from(n) / RATE_HZ)
        .map(|t| (0.4 * (TAU * 37.0 * t).sin() + 0.1 * (TAU * 171.3 * t).sin()) as f32)
        .collect();
    let dithered: Vec<f32> = clipped(&sine(100.0, -1.0), 0.7)
        .iter()
        .zip(noise::white(9, 1.0 / 32_768.0, 48_000).iter().zip(noise::white(
            8,
            1.0 / 32_768.0,
            48_000,
        )))
        .map(|(x, (one, other))| x + one + other)
        .collect();
    let at = |gain: f32, signal: &[f32]| signal.iter().map(|x| x * gain).collect::<Vec<f32>>();
    for (name, word, signal) in [
        ("20 Hz in 16 bits", Some(16), rounded(&low, 16)),
        ("20 Hz in 16 bits, stated as 24", Some(24), rounded(&low, 16)),
        ("20 Hz in 8 bits", Some(8), rounded(&low, 8)),
        ("a swell of lows in 16 bits, turned up", None, at(1.37, &rounded(&swell, 16))),
        ("60 Hz at −70 dBFS in 16 bits", Some(16), rounded(&sine(60.0, -70.0), 16)),
        ("60 Hz at −70 dBFS in 16 bits, as float", None, rounded(&sine(60.0, -70.0), 16)),
        (
            "440 Hz at −30 dBFS in 16 bits, turned up",
            None,
            at(4.1, &rounded(&sine(440.0, -30.0), 16)),
        ),
        ("100 Hz in 32-bit floating point", None, sine(100.0, -1.0)),
        ("silence", Some(16), silence(RATE_HZ, 1.0)),
        ("DC", Some(16), dc(RATE_HZ, 0.5, 1.0)),
        ("clipped, then dithered to 16 bits", Some(16), rounded(&dithered, 16)),
        ("noise", Some(16), rounded(&noise::white(3, 0.5, 48_000), 16)),
    ] {
        let damage = read(word, &[signal]).damage;
        let mut checks = Checks::of(name, BUILT);
        checks.that(damage.flat_tops == 0, "no flat tops", damage);
    }
}
