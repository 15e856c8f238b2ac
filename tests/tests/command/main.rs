//! The `ledgerline` command, run in process on words as they would be typed, and the files that it
//! reads.

mod audit;
mod compare;
mod formats;
mod fuzz;
mod meter;
mod read;
mod read_beside_others;
mod read_in_parts;
mod session;
mod signal;
