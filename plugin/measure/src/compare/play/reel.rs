//! Any stretch of a file: from memory where it is held there, else through a window that moves over
//! the source.

use super::held::Held;
use super::window::Window;
use crate::compare::Source;

/// A file to play from.
pub(in crate::compare) enum Reel<'a, S: Source> {
    Held(&'a Held),
    Read(Window<'a, S>),
}

impl<'a, S: Source> Reel<'a, S> {
    /// A reel that plays what is held of a source, or else the source.
    pub fn new(source: &'a mut S, held: Option<&'a Held>) -> Result<Self, S::Error> {
        held.map_or_else(|| Window::new(source).map(Self::Read), |held| Ok(Self::Held(held)))
    }

    /// Another reel of the same file, for another thread; `None` where there is one way only to read it.
    pub fn another(&self) -> Option<Self> {
        match self {
            Self::Held(held) => Some(Self::Held(held)),
            Self::Read(_) => None,
        }
    }

    pub fn channels(&self) -> usize {
        match self {
            Self::Held(held) => held.channels(),
            Self::Read(window) => window.channels(),
        }
    }

    /// Makes the frames from `first` to `end` available, as far as the file has them, and forgets those
    /// before `first`. Where the file is not held, going back costs a reading from the beginning.
    pub fn show(&mut self, first: i64, end: i64) -> Result<(), S::Error> {
        match self {
            Self::Held(_) => Ok(()),
            Self::Read(window) => window.show(first, end),
        }
    }

    /// Copies a shown stretch of a channel; silence before and behind the file.
    pub fn copy(&self, channel: usize, first: i64, out: &mut [f64]) {
        match self {
            Self::Held(held) => held.copy(channel, first, out),
            Self::Read(window) => window.copy(channel, first, out),
        }
    }
}
