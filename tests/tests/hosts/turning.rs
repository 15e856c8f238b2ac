//! Every parameter is turned while something replaces the output. What is heard never jumps, and is
//! never louder than what was asked for before or after the turn.

use std::f64::consts::TAU;
use std::path::Path;
use std::time::Duration;

use ledgerline_measure::sum_test::HIGHEST_LEVEL_DBFS;
use ledgerline_tests::built::BuiltFor;
use ledgerline_tests::hosts::{Change, Host, Layout, Setup, Take};

use crate::material::assert_same_bits;
use crate::shown::IDS;
use crate::sum_test::{choose, pure_feed_1_from};

const RATE_HZ: f64 = 96_000.0;
/// A take holds whole periods of both tones, so that takes follow one another without a step.
const TAKE_FRAMES: usize = 4800;
/// Takes after each turn: long enough for other filters to be full and heard.
const TAKES: usize = 8;
/// Time in which a meter is made on another thread, which takes part at its own pace.
const BREATH: Duration = Duration::from_millis(10);
/// Amplitude of a tone that is heard.
const LOUD: f64 = 0.5;
/// Amplitude of one beyond the audible band.
const SOFT: f64 = 0.001;

/// A loud tone at 1 kHz and a soft one at 31 kHz, in both channels.
fn tones() -> Vec<Vec<f32>> {
    let tone = |hz: f64, n: usize| (TAU * hz * n as f64 / RATE_HZ).sin();
    let sum = |n| (LOUD * tone(1000.0, n) + SOFT * tone(31_000.0, n)) as f32;
    vec![(0..TAKE_FRAMES).map(sum).collect(); 2]
}

/// What the user asks for.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Asked {
    listen: f64,
    sum_test: f64,
    feed_level: f64,
    bypass: f64,
}

impl Asked {
    fn of<H: Host>(host: &mut H) -> Self {
        let [listen, sum_test, feed_level, bypass] =
            ["listen", "sum_test", "feed_level", "bypass"].map(|id| host.value(id));
        Self { listen, sum_test, feed_level, bypass }
    }

    fn feeds(self) -> bool {
        self.bypass < 0.5 && (0.2..0.8).contains(&self.sum_test)
    }

    /// The highest sample that can be.
    fn level(self) -> f64 {
        let hidden = self.listen > 0.75 && self.bypass < 0.5;
        if self.feeds() {
            let level_dbfs = -60.0 + self.feed_level * (HIGHEST_LEVEL_DBFS + 60.0);
            // To the tenth of a decibel that the parameter has.
            10f64.powf((level_dbfs + 0.05) / 20.0)
        } else if hidden {
            SOFT * 1.05
        } else {
            (LOUD + SOFT) * 1.001
        }
    }

    /// The largest step from sample to sample that can be, a fade included.
    fn step(self) -> f64 {
        let hidden = self.listen > 0.75 && self.bypass < 0.5;
        if self.feeds() || hidden {
            return 2.0 * self.level();
        }
        LOUD * TAU * 1000.0 / RATE_HZ + 2.0 * SOFT + LOUD * 4.0 / (0.02 * RATE_HZ)
    }
}

struct Turning<H> {
    host: H,
    input: Vec<Vec<f32>>,
    last: f64,
    played_frames: usize,
}

impl<H: BuiltFor> Turning<H> {
    fn with(on: &[(&str, &str)]) -> Self {
        let mut host = H::load(&H::built()).expect("the plugin");
        for (id, text) in on {
            choose(&mut host, id, text);
        }
        host.activate(Setup::new(RATE_HZ, Layout::Stereo)).expect("activation");
        Self { host, input: tones(), last: 0.0, played_frames: 0 }
    }

    fn play(&mut self, changes: &[Change<'_>]) -> Vec<Vec<f32>> {
        let take = Take::new(&self.input).in_blocks(&[64, 512, 333]).with_changes(changes);
        let output = self.host.play(&take).expect("audio");
        self.played_frames += TAKE_FRAMES;
        std::thread::sleep(BREATH);
        output
    }

    /// Turns a parameter and listens for a while. Returns what was heard.
    fn turn(&mut self, id: &str, value: f64) -> Vec<Vec<f32>> {
        let before = Asked::of(&mut self.host);
        let mut heard = vec![Vec::new(); 2];
        for take in 0..TAKES {
            let change = Change { at_frame: 0, id, value };
            let changes = if take == 0 { std::slice::from_ref(&change) } else { &[] };
            for (heard, output) in heard.iter_mut().zip(self.play(changes)) {
                heard.extend(output);
            }
        }
        let after = Asked::of(&mut self.host);
        let level = before.level().max(after.level());
        let step = before.step().max(after.step());
        for sample in &heard[0] {
            let sample = f64::from(*sample);
            let moved = (sample - self.last).abs();
            assert!(sample.abs() <= level, "{sample} where {level} was asked for: {id} to {value}");
            assert!(moved <= step, "a step of {moved} where {step} can be: {id} to {value}");
            self.last = sample;
        }
        assert_eq!(heard[0], heard[1], "the channels differ");
        heard
    }
}

/// Every parameter to its ends and back.
fn turns<H: Host>(host: &mut H) -> Vec<(&'static str, f64)> {
    let turned = IDS.into_iter().flat_map(|id| {
        let stands = host.value(id);
        [1.0, 0.35, 0.0, stands].map(|value| (id, value))
    });
    turned.collect()
}

fn nothing_jumps_while_hidden_content_is_heard<H: BuiltFor>(_: &Path) {
    let mut turning = Turning::<H>::with(&[("listen", "Hidden content, shifted down")]);
    for (id, value) in turns(&mut turning.host) {
        turning.turn(id, value);
    }
    let loudest = turning.turn("target", 0.5)[0].iter().fold(0.0_f32, |held, x| held.max(x.abs()));
    assert!(loudest > 0.0009, "the hidden tone is not heard at the end: {loudest}");
}

fn nothing_jumps_while_the_audible_band_is_heard<H: BuiltFor>(_: &Path) {
    let mut turning = Turning::<H>::with(&[("listen", "Audible band only")]);
    for (id, value) in turns(&mut turning.host) {
        turning.turn(id, value);
    }
}

/// A feed that nobody changes is the pure function to the bit, whatever else is turned.
fn nothing_jumps_while_a_feed_plays<H: BuiltFor>(_: &Path) {
    let mut turning = Turning::<H>::with(&[("sum_test", "Feed 1")]);
    turning.turn("target", 0.5);
    for (id, value) in turns(&mut turning.host) {
        let from = turning.played_frames;
        let heard = turning.turn(id, value);
        if !["sum_test", "feed_level", "bypass", "feeds_play"].contains(&id) {
            let frames = TAKES * TAKE_FRAMES;
            let expected = vec![pure_feed_1_from(RATE_HZ, from as u64, frames); 2];
            assert_same_bits(&heard, &expected, &format!("{id} to {value}"));
        }
    }
}

/// Where a host begins anew with listening on, the input is not heard before it.
fn pauses_and_other_rates_begin_from_silence<H: BuiltFor>(_: &Path) {
    let mut turning = Turning::<H>::with(&[("listen", "Hidden content, shifted down")]);
    for rate_hz in [96_000.0, 192_000.0, 96_000.0] {
        for pause in [false, true] {
            if pause {
                turning.host.deactivate();
            }
            turning.host.activate(Setup::new(rate_hz, Layout::Stereo)).expect("activation");
            for _ in 0..3 {
                for sample in &turning.play(&[])[0] {
                    // At twice the rate the soft tone is one of 62 kHz, and the loud one of 2 kHz.
                    assert!(f64::from(sample.abs()) < SOFT * 1.05, "{sample} at {rate_hz} Hz");
                }
            }
            turning.host.reset();
        }
    }
}

in_both_formats!(
    nothing_jumps_while_hidden_content_is_heard,
    nothing_jumps_while_the_audible_band_is_heard,
    nothing_jumps_while_a_feed_plays,
    pauses_and_other_rates_begin_from_silence,
);
