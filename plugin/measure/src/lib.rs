//! The measures of Ledgerline: whole band beside audible band, peak beside RMS and loudness, the
//! sum beside its two halves, and the room that a meter shows beside the room there really is.
//!
//! Samples come in as `f32`, 1.0 being full scale; nothing here knows where they come from.
//!
//! ```
//! use ledgerline_measure::{Meter, Settings, View};
//!
//! let mut meter = Meter::new(48_000.0, 2, 0, Settings::default())?;
//! let left = vec![0.5; 48_000];
//! let right = vec![0.25; 48_000];
//! meter.process(&[&left, &right], &[]);
//! meter.finish();
//! let reading = meter.reading(&View::default());
//! assert_eq!(reading.time_s, 1.0);
//! # Ok::<(), ledgerline_measure::SettingsError>(())
//! ```

// What goes in and what comes out.
pub mod after_conversion;
pub mod causes;
pub mod channel;
pub mod entries;
pub mod finding;
pub mod history;
pub mod laps;
pub mod level;
pub mod meter;
pub mod meter_kind;
pub mod reading;
pub mod settings;
pub mod spectrum;
pub mod verdict;
pub mod words;

// The measures, each under the name of its reading.
pub mod band;
mod book;
pub mod damage;
pub mod decorrelation;
pub mod detector;
mod energy;
mod flat_tops;
mod halves;
mod hidden;
pub mod k_weighting;
mod limiter;
mod loudness;
mod peak;
mod room;
mod signal;
mod true_peak;
mod weighting;
mod your_meter;

// What an export did to a mix.
pub mod compare;

// The summing test.
pub mod sum_test;

// What they are made of.
mod batch;
pub mod biquad;
mod eight;
mod fir;
mod four;
mod hann;
mod highest;
pub mod sample;
mod sliding;

#[cfg(test)]
mod scalar;

pub use channel::ChannelRole;
pub use halves::HalvesRow;
pub use history::HistoryRow;
pub use level::Level;
pub use loudness::loudness_range;
pub use meter::Meter;
pub use reading::{Reading, YourMeterReading};
pub use settings::{
    ClipAt, Edges, Halves, PRESETS, Preset, RmsReference, RmsWindow, Settings, SettingsError,
    Target, TargetKind, TruePeakFilter, View, YourMeter,
};
pub use spectrum::Spectrum;
