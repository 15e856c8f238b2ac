//! A bench for comparisons on real sound: music and speech put through chains whose effect is known,
//! and what a comparison says of each held against that.
//!
//! A [`Kind`] is a chain and what may truly be said of it; a [`Piece`] is the sound that goes
//! through. Chains are made by ffmpeg, by sox and by code of our own, so that they share nothing
//! with what is tested.

pub mod judge;
pub mod kind;
pub mod kinds;
pub mod library;
pub mod piece;
pub mod recipes;
pub mod run;
pub mod table;
pub mod tools;

mod effects;

pub use judge::{Judged, Verdict, judge};
pub use kind::{Facts, Kind, Made, Scene};
pub use piece::{Piece, Stock};
