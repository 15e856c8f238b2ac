//! Playing the two files: any stretch of either, the mix by the export's clock, and what it predicts
//! for the export.

mod held;
mod interpolate;
mod parts;
mod player;
mod predict;
mod reel;
mod window;

pub(in crate::compare) use held::Held;
pub(in crate::compare) use parts::in_parts;
pub(in crate::compare) use player::Player;
pub(in crate::compare) use predict::{Path, Predictor, mapped};
pub(in crate::compare) use reel::Reel;
pub(in crate::compare) use window::Window;

/// Which of the two files could not be read.
pub(in crate::compare) enum Failed<M, X> {
    Mix(M),
    Export(X),
}
