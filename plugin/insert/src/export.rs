//! The entry points that hosts look for in the built library. They hand on to the framework what it
//! does well, and do themselves what it does not: side-chains and surround buses, channels that a
//! host leaves out, the mode of rendering, the end of processing, the scale of a window, what a host
//! is told of what loading switches off ([`asked`]), what another version has saved, and [`texts`]
//! that name one of several things.

// Entry points are C functions on raw pointers; the rest of the crate has no unsafe code.
#![allow(unsafe_code)]

mod asked;
mod channels;
mod clap;
mod texts;
mod vst3;
