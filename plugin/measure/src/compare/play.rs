//! Playing the two files: any stretch of either, the mix by the export's clock, and what it predicts
//! for the export.

mod interpolate;
mod player;
mod predict;
mod reel;

pub(in crate::compare) use player::Player;
pub(in crate::compare) use predict::{Path, Predictor};
pub(in crate::compare) use reel::Reel;

/// Which of the two files could not be read.
pub(in crate::compare) enum Failed<M, X> {
    Mix(M),
    Export(X),
}
