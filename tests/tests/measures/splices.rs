//! Where a stream is cut and joined, the cut itself is not read.
//!
//! What is expected comes from the definition of a sine: whatever is cut out of it, nothing that is
//! left is higher than its amplitude.

use ledgerline_measure::{Edges, Meter, Settings, TruePeakFilter, View};
use ledgerline_tests::readings::{Checks, stereo_meter};
use ledgerline_tests::signals::tone::Sine;
use ledgerline_tests::signals::{Stereo, frames};

const SOURCE: &str = "the amplitude of a sine";
const AMPLITUDE: f64 = 0.45;
const AMPLITUDE_DB: f64 = -6.9357;
/// The lower edge's ripple, and a hundredth for the interpolation.
const TOLERANCE_DB: f64 = 0.03;
/// The printed filter reads low tones up to 0.05 dB too high.
const PRINTED_TOLERANCE_DB: f64 = 0.06;

/// What may happen to a stream.
#[derive(Debug, Clone, Copy)]
enum Event {
    /// The user resets, and the stream goes on.
    Reset,
    /// The stream jumps by half a period and a little.
    Jump,
    /// A stretch is passed over, as while the plugin is bypassed.
    Pass,
    /// A loop of a third of a second returns again and again.
    Loop,
    /// Another meter goes on in the middle.
    NewMeter,
    /// A reset straight behind a jump.
    JumpAndReset,
    /// Processing stops and goes on.
    Pause,
    /// The same, with a reset while it is stopped.
    PauseAndReset,
}

const EVENTS: [Event; 8] = [
    Event::Reset,
    Event::Jump,
    Event::Pass,
    Event::Loop,
    Event::NewMeter,
    Event::JumpAndReset,
    Event::Pause,
    Event::PauseAndReset,
];

/// A sine that is fed piece by piece, from any of its moments.
struct Player {
    tone: Stereo,
    block_frames: usize,
}

impl Player {
    fn play(&self, meter: &mut Meter, from_s: f64, length_s: f64, passes: bool) {
        let rate_hz = self.tone.rate_hz;
        let start = frames(rate_hz, from_s);
        let stretch = start..start + frames(rate_hz, length_s);
        let (left, right) = (&self.tone.left[stretch.clone()], &self.tone.right[stretch]);
        let blocks = left.chunks(self.block_frames).zip(right.chunks(self.block_frames));
        for (left, right) in blocks {
            if passes {
                meter.pass(&[left, right], &[]);
            } else {
                meter.process(&[left, right], &[]);
            }
        }
    }

    /// Plays for a second or two, lets something happen, and plays on. Returns the meter that heard
    /// the end, which is not finished: the end is not what is tried.
    fn with(&self, event: Event, settings: Settings) -> Meter {
        let rate_hz = self.tone.rate_hz;
        let mut meter = stereo_meter(rate_hz, settings);
        // Begins in silence, and swells: the stream's own beginning is not what is tried either.
        self.play(&mut meter, 0.0, 1.503, false);
        match event {
            Event::Reset => meter.reset(),
            Event::Jump => meter.splice(),
            Event::Pass => self.play(&mut meter, 1.503, 0.777, true),
            Event::Loop => {
                for _ in 0..6 {
                    meter.splice();
                    self.play(&mut meter, 1.1, 0.333, false);
                }
                meter.splice();
            }
            Event::NewMeter => {
                meter = stereo_meter(rate_hz, settings);
                meter.join_midway();
            }
            Event::JumpAndReset => {
                meter.splice();
                meter.reset();
            }
            Event::Pause => meter.pause(),
            Event::PauseAndReset => {
                meter.pause();
                meter.reset();
            }
        }
        let from_s = match event {
            Event::Reset => 1.503,
            Event::Pass => 2.280,
            _ => 2.011,
        };
        self.play(&mut meter, from_s, 2.5, false);
        meter
    }
}

/// A sine that has swelled within a second and does not end within six.
fn swelling(hz: f64, rate_hz: f64) -> Stereo {
    let mut tone = Sine::new(hz, AMPLITUDE).play(rate_hz, 6.0);
    let swell = frames(rate_hz, 1.0);
    for (index, sample) in tone[..swell].iter_mut().enumerate() {
        let share = index as f64 / swell as f64;
        *sample *= (0.5 - 0.5 * (share * std::f64::consts::PI).cos()) as f32;
    }
    Stereo::both(rate_hz, tone)
}

fn check(event: Event, hz: f64, rate_hz: f64, settings: Settings, block_frames: usize) {
    let player = Player { tone: swelling(hz, rate_hz), block_frames };
    let reading = player.with(event, settings).reading(&View::default());
    let case = format!(
        "{event:?} in a sine of {hz} Hz at {rate_hz} Hz, {:?}, blocks of {block_frames}",
        settings.true_peak
    );
    let mut checks = Checks::of(case, SOURCE);
    let true_peak_tolerance = match settings.true_peak {
        TruePeakFilter::Interpolated => TOLERANCE_DB,
        TruePeakFilter::Bs1770 => PRINTED_TOLERANCE_DB,
    };
    for (name, band) in [("whole", &reading.whole), ("audible", &reading.audible)] {
        for (of, levels, above_db) in
            [("L", &band.a, 0.0), ("sum", &band.sum, 6.0206), ("bus", &band.bus, 0.0)]
        {
            let expected = AMPLITUDE_DB + above_db;
            let what = |of_what| format!("{name} {of} {of_what}");
            checks.level(&what("sample peak"), levels.sample_peak_dbfs, expected, TOLERANCE_DB);
            let true_peak = levels.true_peak_dbtp;
            checks.level(&what("true peak"), true_peak, expected, true_peak_tolerance);
            checks.that(levels.overs == Some(0), "no over", levels.overs);
        }
        let windows =
            if name == "whole" { &reading.windows.whole } else { &reading.windows.audible };
        let peak = windows.bus.sample_peak_dbfs;
        checks.level(&format!("{name} peak window"), peak, AMPLITUDE_DB, TOLERANCE_DB);
    }
    // A splice would splash over the whole spectrum.
    let tones = reading.hidden.tones.as_slice();
    checks.that(tones.is_empty(), "no tone outside the audible band", tones);
}

#[test]
fn no_peak_over_or_tone_comes_from_a_splice() {
    for event in EVENTS {
        for true_peak in [TruePeakFilter::Interpolated, TruePeakFilter::Bs1770] {
            let settings = Settings { true_peak, ..Settings::default() };
            check(event, 60.0, 48_000.0, settings, 480);
            check(event, 60.0, 48_000.0, settings, 77);
        }
        check(event, 331.0, 44_100.0, Settings::default(), 512);
        check(event, 60.0, 96_000.0, Settings::default(), 64);
        let narrow = Edges::nearest(5.0, 12_000.0);
        check(event, 25.0, 48_000.0, Settings { edges: narrow, ..Settings::default() }, 256);
    }
}

#[test]
fn what_was_played_before_a_reset_does_not_count_and_what_comes_after_does() {
    let rate_hz = 48_000.0;
    for waiting in [0, 1, 63] {
        let mut meter = stereo_meter(rate_hz, Settings::default());
        let loud = Sine::new(997.0, 0.9).play(rate_hz, 1.0);
        let loud = &loud[..frames(rate_hz, 0.9) / 64 * 64 + waiting];
        meter.process(&[loud, loud], &[]);
        meter.reset();
        let quiet = Sine::new(997.0, 0.09).play(rate_hz, 2.0);
        meter.process(&[&quiet, &quiet], &[]);
        let reading = meter.reading(&View::default());
        let mut checks =
            Checks::of(format!("a reset with {waiting} frames in an open step"), SOURCE);
        checks.level("peak", reading.whole.bus.sample_peak_dbfs, -20.915, 0.01);
        let counted_s = 2.0 - meter.delay_frames() as f64 / rate_hz;
        checks.number("time", Some(reading.time_s), counted_s, 130.0 / rate_hz);
    }
}

#[test]
fn behind_silence_a_splice_is_a_beginning_and_everything_counts() {
    let rate_hz = 48_000.0;
    let mut meter = stereo_meter(rate_hz, Settings::default());
    let silence = vec![0.0; frames(rate_hz, 1.0)];
    meter.process(&[&silence, &silence], &[]);
    meter.splice();
    let mut click = vec![0.0; frames(rate_hz, 1.0)];
    click[10] = AMPLITUDE as f32;
    meter.process(&[&click, &click], &[]);
    let reading = meter.reading(&View::default());
    let mut checks = Checks::of("a click straight behind a splice in silence", SOURCE);
    checks.level("whole peak", reading.whole.bus.sample_peak_dbfs, AMPLITUDE_DB, 0.001);
}
