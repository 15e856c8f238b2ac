//! A bus of more than two channels: the bus holds every channel, the halves are left and right.

use ebur128::{Channel, EbuR128, Mode};
use ledgerline_measure::ChannelRole::{Center, Left, LowFrequency, Other, Right, Surround};
use ledgerline_measure::{ChannelRole, Halves, Meter, Reading, Settings, View};
use ledgerline_tests::formulas::{loudness_range_lu, peak_dbfs, rms_dbfs};
use ledgerline_tests::readings::{Checks, feed, feed_channels, read_channels};
use ledgerline_tests::signals::tone::{Sine, silence};
use ledgerline_tests::signals::{Stereo, frames, noise};

const RATE_HZ: f64 = 48_000.0;
const SIX: [ChannelRole; 6] = [Left, Right, Center, LowFrequency, Surround, Surround];
const LENGTH_S: f64 = 20.0;

/// Six independent noises of levels that nobody would confuse, whose loudness rises and falls.
fn six_noises() -> Vec<Vec<f32>> {
    let count = frames(RATE_HZ, LENGTH_S);
    let levels = [0.05, 0.04, 0.08, 0.3, 0.06, 0.02];
    levels
        .into_iter()
        .zip(301..)
        .map(|(rms, seed)| {
            let mut channel = noise::white_gaussian(seed, rms, count);
            for (index, sample) in channel.iter_mut().enumerate() {
                let time_s = index as f64 / RATE_HZ;
                *sample *= (1.0 + 0.9 * (time_s * 0.9).sin()) as f32 * 0.5;
            }
            channel
        })
        .collect()
}

fn crate_meter() -> EbuR128 {
    let mode = Mode::I | Mode::M | Mode::S | Mode::SAMPLE_PEAK;
    let mut theirs = EbuR128::new(6, RATE_HZ as u32, mode).expect("six channels");
    theirs
        .set_channel_map(&[
            Channel::Left,
            Channel::Right,
            Channel::Center,
            Channel::Unused,
            Channel::LeftSurround,
            Channel::RightSurround,
        ])
        .expect("a map of six channels");
    theirs
}

#[test]
fn six_channels_agree_with_an_independent_meter() {
    let channels = six_noises();
    let mut theirs = crate_meter();
    let mut short_terms = Vec::new();
    let hop = frames(RATE_HZ, 0.1);
    for end in (hop..=channels[0].len()).step_by(hop) {
        let block: Vec<&[f32]> = channels.iter().map(|channel| &channel[end - hop..end]).collect();
        theirs.add_frames_planar_f32(&block).expect("six channels");
        if end >= 30 * hop {
            short_terms.push(theirs.loudness_shortterm().expect("short term"));
        }
    }
    let reading = read_channels(RATE_HZ, &SIX, &channels);
    let bus = reading.whole.bus;
    let mut checks = Checks::of("six noises", "ebur128 crate 0.1");
    let integrated = theirs.loudness_global().expect("integrated loudness");
    checks.level("integrated_lufs", bus.integrated_lufs, integrated, 0.01);
    let momentary = theirs.loudness_momentary().expect("momentary");
    checks.level("momentary_lufs", bus.momentary_lufs, momentary, 0.01);
    let short_term = theirs.loudness_shortterm().expect("short term");
    checks.level("short_term_lufs", bus.short_term_lufs, short_term, 0.01);
    checks.level("lra_lu", bus.lra_lu, loudness_range_lu(&short_terms), 0.01);
    let peaks = (0..6).map(|channel| theirs.sample_peak(channel).expect("a peak"));
    let peak_dbfs = 20.0 * peaks.fold(0.0, f64::max).log10();
    checks.level("sample_peak_dbfs", bus.sample_peak_dbfs, peak_dbfs, 1e-9);
}

#[test]
fn the_bus_holds_every_channel_and_the_halves_left_and_right_alone() {
    let channels = six_noises();
    let six = read_channels(RATE_HZ, &SIX, &channels);
    let two = read_channels(RATE_HZ, &SIX[..2], &channels[..2]);
    let mut checks = Checks::of("six noises", "the channels' own mean squares and peaks");
    let powers: f64 = channels.iter().map(|channel| 10f64.powf(rms_dbfs(channel) / 10.0)).sum();
    let whole = six.whole.bus;
    checks.level("bus rms_dbfs", whole.rms_dbfs, 10.0 * (powers / 6.0).log10(), 1e-4);
    let peak = channels.iter().map(|channel| peak_dbfs(channel)).fold(f64::MIN, f64::max);
    checks.level("bus sample_peak_dbfs", whole.sample_peak_dbfs, peak, 1e-5);
    for (band, of_six, of_two) in
        [("whole", six.whole, two.whole), ("audible", six.audible, two.audible)]
    {
        checks.that(of_six.a == of_two.a, &format!("{band}: half A as in stereo"), of_six.a);
        checks.that(of_six.b == of_two.b, &format!("{band}: half B as in stereo"), of_six.b);
        checks.that(of_six.sum == of_two.sum, &format!("{band}: sum as in stereo"), of_six.sum);
        checks.that(of_six.halves == of_two.halves, "halves as in stereo", of_six.halves);
    }
}

/// Six channels of silence but for one, which carries `channel`.
fn alone_in(role: ChannelRole, channel: &[f32]) -> Reading {
    let place = SIX.iter().position(|&other| other == role).expect("one of the six");
    let mut channels = vec![vec![0.0; channel.len()]; 6];
    channels[place] = channel.to_vec();
    read_channels(RATE_HZ, &SIX, &channels)
}

#[test]
fn the_low_frequency_channel_counts_in_everything_but_loudness() {
    // Over full scale between the samples alone: a quarter of the rate, 45 degrees off.
    let tone = Sine::new(12_000.0, 1.2).at_phase(45.0).faded(RATE_HZ, 5.0, 0.01);
    let reading = alone_in(LowFrequency, &tone);
    let (whole, audible) = (reading.whole.bus, reading.audible.bus);
    let mut checks = Checks::of(
        "a tone in the low-frequency channel alone",
        "ITU-R BS.1770-5, Annex 1, Table 3",
    );
    checks.level("integrated_lufs", whole.integrated_lufs, f64::NEG_INFINITY, 0.0);
    checks.level("momentary_lufs", whole.momentary_lufs, f64::NEG_INFINITY, 0.0);
    let peak_dbfs = 20.0 * (1.2 * std::f64::consts::FRAC_1_SQRT_2).log10();
    checks.level("sample_peak_dbfs", whole.sample_peak_dbfs, peak_dbfs, 0.001);
    checks.level("true_peak_dbtp", whole.true_peak_dbtp, 20.0 * 1.2f64.log10(), 0.02);
    // One channel of six.
    let rms_dbfs = rms_dbfs(&tone) - 10.0 * 6f64.log10();
    checks.level("rms_dbfs", whole.rms_dbfs, rms_dbfs, 0.001);
    checks.level("audible rms_dbfs", audible.rms_dbfs, rms_dbfs, 0.03);
    checks.number("audible share", reading.hidden.audible_share, 1.0, 0.001);
    checks.level("half A", reading.whole.a.sample_peak_dbfs, f64::NEG_INFINITY, 0.0);
}

#[test]
fn a_997_hz_tone_reads_by_its_channel_s_weight() {
    let tone = Sine::new(997.0, 0.1).play(RATE_HZ, 3.0);
    let surround_db = 10.0 * 1.41f64.log10();
    for (role, weight_db) in [(Left, 0.0), (Right, 0.0), (Center, 0.0), (Surround, surround_db)] {
        let reading = alone_in(role, &tone);
        let mut checks =
            Checks::of(format!("997 Hz in {role:?}"), "ITU-R BS.1770-5, Annex 1, Table 3");
        let integrated = reading.whole.bus.integrated_lufs;
        checks.level("integrated_lufs", integrated, -23.0103 + weight_db, 0.001);
    }
}

#[test]
fn overs_hidden_content_and_true_peaks_of_any_channel_are_the_bus_s() {
    let count = frames(RATE_HZ, 2.0);
    let mut channels: Vec<Vec<f32>> =
        (0..5).map(|seed| noise::white_gaussian(400 + seed, 0.01, count)).collect();
    // Half a second of DC at full scale in the fifth channel, whose pair has no second one.
    channels[4][frames(RATE_HZ, 1.0)..frames(RATE_HZ, 1.5)].fill(1.0);
    let reading = read_channels(RATE_HZ, &[Left, Right, Center, Other, Other], &channels);
    let mut checks = Checks::of("DC in the last of five channels", "closed form");
    checks.that(reading.whole.bus.overs == Some(1), "one over", reading.whole.bus.overs);
    checks.that(reading.whole.a.overs == Some(0), "none in half A", reading.whole.a.overs);
    let times = reading.windows.over_times_s;
    checks.that(times.as_slice() == [1.0], "at 1 s", times);
    checks.level("limiter whole_db", reading.limiter.whole_db, 1.0, 0.001);
    // A quarter of the time at 1, over five channels: its mean alone is 1/4 in one of five.
    let dc = 10.0 * (0.25f64 * 0.25 / 5.0).log10();
    checks.level("dc_dbfs", reading.hidden.dc_dbfs, dc, 0.01);
    let shares = [
        reading.hidden.above_share,
        reading.hidden.below_share,
        reading.hidden.dc_share,
        reading.hidden.audible_share,
    ];
    checks.number("shares together", Some(shares.into_iter().flatten().sum()), 1.0, 1e-9);
}

#[test]
fn one_and_two_channels_read_to_the_bit_as_in_the_plugin() {
    let channels = six_noises();
    let signal = Stereo::new(RATE_HZ, channels[0].clone(), channels[1].clone());
    let mut stereo = Meter::new(RATE_HZ, 2, 0, Settings::default()).expect("a stereo meter");
    feed(&mut stereo, &signal);
    stereo.finish();
    // What a file's halves are is not for the settings to say.
    let settings = Settings { halves: Halves::MainSidechain, ..Settings::default() };
    let mut file = Meter::for_channels(RATE_HZ, &[Left, Right], settings).expect("two channels");
    feed_channels(&mut file, &channels[..2]);
    file.finish();
    let mut checks = Checks::of("two noises", "Meter::new");
    let view = View::default();
    checks.that(
        file.reading(&view) == stereo.reading(&view),
        "the same reading",
        file.reading(&view),
    );
    checks.that(file.spectrum() == stereo.spectrum(), "the same spectrum", ());
    let mono = Settings { halves: Halves::Mono, ..Settings::default() };
    let mut plugin = Meter::new(RATE_HZ, 1, 0, mono).expect("a mono meter");
    feed_channels(&mut plugin, &channels[..1]);
    plugin.finish();
    let file = read_channels(RATE_HZ, &[Center], &channels[..1]);
    Checks::of("one noise", "Meter::new").that(
        file == plugin.reading(&view),
        "the same reading",
        file,
    );
}

#[test]
fn sixty_four_channels_are_measured() {
    let rate_hz = 96_000.0;
    let tone = Sine::new(997.0, 0.01).faded(rate_hz, 2.0, 0.01);
    let mut channels = vec![tone; 64];
    channels[63] = Sine::new(30_000.0, 0.02).faded(rate_hz, 2.0, 0.01);
    let reading = read_channels(rate_hz, &[Other; 64], &channels);
    let mut checks = Checks::of("997 Hz in 63 of 64 channels, 30 kHz in the last", "closed form");
    let together = 10.0 * 63f64.log10();
    let integrated = reading.audible.bus.integrated_lufs;
    checks.level("audible integrated_lufs", integrated, -43.0103 + together, 0.03);
    checks.level("sample_peak_dbfs", reading.whole.bus.sample_peak_dbfs, -33.9794, 0.001);
    let audible_peak = reading.audible.bus.sample_peak_dbfs;
    checks.level("audible sample_peak_dbfs", audible_peak, -40.0, 0.02);
    let hidden_dbfs = -33.9794 - 3.0103 - 10.0 * 64f64.log10();
    checks.level("above_dbfs", reading.hidden.above_dbfs, hidden_dbfs, 0.05);
    let silent = read_channels(rate_hz, &[Other; 64], &vec![silence(rate_hz, 1.0); 64]);
    let peak = silent.whole.bus.sample_peak_dbfs;
    Checks::of("64 channels of silence", "nothing is nothing").level(
        "sample_peak_dbfs",
        peak,
        f64::NEG_INFINITY,
        0.0,
    );
}
