//! What is measured: the ferry mix, noise that no bound can pass over, and steady tones.

use ledgerline_tests::signals::tone::Sine;
use ledgerline_tests::signals::{Stereo, bench_mix, noise};

/// A track with a name.
pub struct Track {
    /// Name in the tables.
    pub name: String,
    /// The samples.
    pub audio: Stereo,
}

/// Length of the tracks that are not the ferry mix, in seconds.
const LENGTH_S: f64 = 20.0;

/// The tracks of the comparison, the ferry mix first.
pub fn at_96_khz() -> Vec<Track> {
    let rate_hz = 96_000.0;
    let tone = |hz: f64| Track {
        name: format!("sine of {hz} Hz"),
        audio: Stereo::both(rate_hz, Sine::new(hz, 0.5).play(rate_hz, LENGTH_S)),
    };
    vec![
        Track { name: "the benchmark's ferry mix".into(), audio: bench_mix::play() },
        noise(rate_hz),
        tone(997.0),
        tone(19_997.0),
    ]
}

/// Two noises in the middle that go from identical to independent and back every six seconds.
pub fn switched(rate_hz: f64) -> Track {
    let frames = (rate_hz * LENGTH_S) as usize;
    let [one, other] = [1, 2].map(|seed| noise::white(seed, 0.158, frames));
    let identical = |n: usize| ((n as f64 / rate_hz / 6.0) as usize).is_multiple_of(2);
    let sum = |n: usize| one[n] + if identical(n) { one[n] } else { other[n] };
    let name = format!("two noises switched every 6 s, {} kHz", rate_hz / 1000.0);
    Track { name, audio: Stereo::both(rate_hz, (0..frames).map(sum).collect()) }
}

/// Independent uniform noises, peak −10 dBFS.
pub fn noise(rate_hz: f64) -> Track {
    noise_up_to(rate_hz, 0.316)
}

/// The same, of whose samples so great a share exceeds full scale.
pub fn noise_over(rate_hz: f64, share: f64) -> Track {
    noise_up_to(rate_hz, 1.0 / (1.0 - share))
}

fn noise_up_to(rate_hz: f64, peak: f64) -> Track {
    let frames = (rate_hz * LENGTH_S) as usize;
    let white = |seed| noise::white(seed, peak, frames);
    Track {
        name: format!("white noise, {} kHz", rate_hz / 1000.0),
        audio: Stereo::new(rate_hz, white(1), white(2)),
    }
}
