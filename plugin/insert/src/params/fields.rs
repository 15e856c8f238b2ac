//! Names of the fields of a saved state.

/// Marks a state as ours.
pub(super) const FIELD: &str = "state";
/// Holds a state of ours within one of another shape.
pub(super) const OWN_FIELD: &str = "ledgerline.state/1";
/// Holds what the mixer's meter showed.
pub(super) const METER_FIELD: &str = "meter_shown";
/// Holds the window's size and look.
pub(super) const WINDOW_FIELD: &str = "window";
