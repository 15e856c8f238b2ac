//! The measures, fed with samples in process: against published figures, formulas, independent
//! libraries, and what signals were built of.

mod after_conversion;
mod against_band;
mod against_ebur128;
mod against_formulas;
mod bad_input;
mod bad_settings;
mod ballistics;
mod bench_mix;
mod blocks;
mod causes;
mod channels;
mod common_practice;
mod decorrelation;
mod entries;
mod ferry;
mod finding;
mod halves;
mod hidden;
mod history;
mod late_copy;
mod low_rates;
mod ordinary;
mod overs;
mod parts;
mod published_levels;
mod published_loudness;
mod published_true_peak;
mod room;
mod sentences;
mod spectrum;
mod splices;
mod strong_lows;
mod tones;
mod undo;
mod your_meter;
