//! The signals of a bus, in the order of every array that has one entry a signal.

/// Half A: left, or the main input.
pub(crate) const A: usize = 0;
/// Half B: right, or the side-chain.
pub(crate) const B: usize = 1;
/// A + B at unity gain.
pub(crate) const SUM: usize = 2;
/// All channels of the bus.
pub(crate) const BUS: usize = 3;
/// How many signals a bus has.
pub(crate) const SIGNALS: usize = 4;
