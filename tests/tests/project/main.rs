//! The project as a whole: what its crates may know and depend on, what a user takes home, and what
//! programs of other people make of it.
//!
//! What needs more than the Rust toolchain stands behind `#[ignore]`: `cargo xtask test` makes it
//! and runs those tests.

mod boundaries;
mod cycles;
mod dependencies;
mod getting_it;
mod modules;
mod tables;
mod third_party;
mod third_party_files;
mod vocabulary;
