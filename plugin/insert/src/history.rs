//! What was: the bus's levels over time, ten rows a second, and whole snapshots now and then. The audio
//! thread makes both; the background puts them in the board, where the editor finds them.
//!
//! Memory is bounded over a day and more: the latest minute is kept in tenths of a second, the latest
//! ten minutes in seconds, and everything in as many columns as a screen has, which grow wider.

mod board;
mod columns;
mod feed;
mod moments;

pub use board::{Board, History};
pub use columns::{Column, Columns, Span};
pub use feed::{Feed, Keeper, feed};
pub use moments::{Kept, Moments};
