//! Where the background thread pins things for the editor.

pub use crate::history::{Feed as HistoryFeed, Keeper as HistoryKeeper, feed as history_feed};
use crate::{entries, history, sum_test};

/// The boards of one instance.
#[derive(Debug, Default)]
pub struct Boards {
    /// The table of the sum test.
    pub sum_test: sum_test::board::Board,
    /// The bus's levels over time.
    pub history: history::Board,
    /// The entries of the bus.
    pub entries: entries::board::Board,
}
