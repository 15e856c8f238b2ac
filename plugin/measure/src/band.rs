//! The audible band: the whole band less what lies above the upper edge and less what lies below the
//! lower edge.
//!
//! Both are taken away by linear-phase filters that stand side by side, so what is left keeps its
//! waveform: a filter that turned phases would make peaks that the sound does not have. What lies
//! above is the delayed input less a [`low_pass`]; what lies below comes out of the [`lower_edge`]
//! filter, which works at a low rate. For listening, where a quarter of a second would be too late,
//! [`BandFilter`] takes an ordinary high-pass instead.

mod delay;
mod listening;
mod low_pass;
mod lower_edge;
mod splitter;

pub use listening::BandFilter;
pub(crate) use low_pass::stop_edge_hz;
pub(crate) use splitter::{SplitBatch, Splitter};
