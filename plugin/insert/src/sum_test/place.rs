//! Where the host's transport stands.

use nice_plug::prelude::Transport;

/// The transport at the first frame of a block.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Place {
    /// Frames from the beginning of the project, while the transport runs and says where it is.
    pub playing_at: Option<i64>,
    /// First frame of the loop and the frame after its last, while the host loops and says so.
    pub loop_frames: Option<(i64, i64)>,
}

impl Place {
    /// What the host says.
    #[must_use]
    pub fn of(transport: &Transport) -> Self {
        Self {
            playing_at: transport.pos_samples().filter(|_| transport.playing),
            loop_frames: transport.loop_range_samples().filter(|_| transport.playing),
        }
    }

    /// The place some frames later.
    #[must_use]
    pub fn after(self, frames: usize) -> Self {
        let playing_at = self.playing_at.map(|at| at.saturating_add_unsigned(frames as u64));
        Self { playing_at, ..self }
    }

    /// The place in seconds at a sample rate, while the transport runs and says where it is.
    #[must_use]
    pub fn playing_at_s(self, rate_hz: Option<f64>) -> Option<f64> {
        Some(self.playing_at? as f64 / rate_hz.filter(|rate_hz| *rate_hz > 0.0)?)
    }
}
