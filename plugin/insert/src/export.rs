//! The entry points that hosts look for in the built library.

// Entry points are C functions on raw pointers; the rest of the crate has no unsafe code.
#![allow(unsafe_code)]

mod clap;
mod vst3;
