//! Momentary loudness: ITU-R BS.1770-5, over the 400 ms of EBU Tech 3341, taken every 10 ms.

use super::rms::SlidingPower;
use super::sample;
use crate::biquad::Lanes;
use crate::k_weighting::{self, LOUDNESS_OFFSET_DB};
use crate::level::Level;

/// Hops of 10 ms in a window: 400 ms.
const WINDOW_HOPS: usize = 40;
/// Samples between two looks for states that have decayed.
const SETTLE_FRAMES: u32 = 64;

/// Momentary loudness of one channel.
pub struct Momentary {
    weighting: [Lanes; 2],
    until_settle: u32,
    power: SlidingPower,
}

impl Momentary {
    /// A detector for a signal at `rate_hz`.
    #[must_use]
    pub fn new(rate_hz: f64) -> Self {
        Self {
            weighting: k_weighting::stages(rate_hz).map(|stage| Lanes::new([stage; 4])),
            until_settle: SETTLE_FRAMES,
            power: SlidingPower::new(rate_hz, WINDOW_HOPS),
        }
    }

    /// Forgets what came before.
    pub fn reset(&mut self) {
        self.weighting.iter_mut().for_each(Lanes::reset);
        self.until_settle = SETTLE_FRAMES;
        self.power.reset();
    }

    /// Takes the next samples.
    pub fn take(&mut self, samples: &[f32]) {
        for &value in samples {
            let weighted =
                self.weighting.iter_mut().fold([sample(value); 4], |x, stage| stage.process(x));
            self.power.push(weighted[0]);
            self.until_settle -= 1;
            if self.until_settle == 0 {
                self.until_settle = SETTLE_FRAMES;
                self.weighting.iter_mut().for_each(Lanes::settle);
            }
        }
    }

    /// The highest momentary loudness, in LUFS; none before a window has filled.
    #[must_use]
    pub fn highest(&self) -> Level {
        self.power.highest().plus(LOUDNESS_OFFSET_DB)
    }

    /// The loudness of the mean power shown after settling, in LUFS.
    #[must_use]
    pub fn settled(&self) -> Level {
        self.power.settled().plus(LOUDNESS_OFFSET_DB)
    }
}
