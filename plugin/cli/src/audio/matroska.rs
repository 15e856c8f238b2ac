//! Matroska and WebM (RFC 9559): when the packets of a track are heard.
//!
//! The library parses what a track is. What it leaves out is read here: what the codec puts before
//! the sound, what is to be left out behind it, the times of blocks, from which gaps show, and
//! headers of packets that stand once for all. Blocks of other tracks are passed over unread, so that
//! the pictures of a film cost nothing.
//!
//! The seek pre-roll says what to decode before a place that one jumps to; nobody jumps here.

mod blocks;
mod ebml;
mod header;
mod lacing;

pub(super) use blocks::Blocks;
pub(super) use header::{Header, Track};
