//! Cuts sound into parts while it is decoded, and hands them out block by block.
//!
//! Nobody has to know how long the sound is. A part goes on until as much lies behind its end as the
//! part needs to be complete: only then is that an end, and the next part begins. So no promise of a
//! header counts, and a recording that breaks off ends in the part that it breaks off in.

use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Condvar, Mutex, PoisonError};

/// Decoded sound, for each part that reaches into it.
pub(super) struct Block {
    /// Its first frame.
    pub(super) first: u64,
    /// `[channel][frame]`
    pub(super) channels: Vec<Vec<f32>>,
    held: Arc<Held>,
}

impl Block {
    fn frames(&self) -> u64 {
        self.channels.first().map_or(0, |channel| channel.len() as u64)
    }

    /// The first frame behind it.
    pub(super) fn end(&self) -> u64 {
        self.first + self.frames()
    }
}

impl Drop for Block {
    fn drop(&mut self) {
        self.held.give_back(self.frames());
    }
}

/// What a part is told, in order.
pub(super) enum Piece {
    Block(Arc<Block>),
    /// The next part begins at this frame, which lies ahead. The last part is never told.
    EndsAt(u64),
}

/// A part that has begun.
pub(super) struct Begun {
    /// How many parts come before it.
    pub(super) index: usize,
    /// Its first frame; the blocks begin before that, where there is a before.
    pub(super) start: u64,
    pub(super) pieces: Receiver<Piece>,
}

/// Frames that are decoded and not measured yet: whoever decodes waits where there are too many.
pub(super) struct Held {
    most: u64,
    state: Mutex<State>,
    changed: Condvar,
}

#[derive(Default)]
struct State {
    frames: u64,
    /// Nobody measures any more.
    closed: bool,
}

impl Held {
    /// Room for so many frames; a block may go beyond.
    pub(super) fn new(most: u64) -> Arc<Self> {
        Arc::new(Self { most, state: Mutex::default(), changed: Condvar::new() })
    }

    /// Takes room for frames once there is some; false where nobody wants them any more.
    fn take(&self, frames: u64) -> bool {
        let state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        let full = |state: &mut State| !state.closed && state.frames >= self.most;
        let waited = self.changed.wait_while(state, full);
        let mut state = waited.unwrap_or_else(PoisonError::into_inner);
        state.frames += frames;
        !state.closed
    }

    fn give_back(&self, frames: u64) {
        self.change(|state| state.frames -= frames);
    }

    fn change(&self, change: impl FnOnce(&mut State)) {
        change(&mut self.state.lock().unwrap_or_else(PoisonError::into_inner));
        self.changed.notify_all();
    }
}

/// Lets whoever decodes go when nobody measures any more.
pub(super) struct Closing<'a>(pub(super) &'a Held);

impl Drop for Closing<'_> {
    fn drop(&mut self) {
        self.0.change(|state| state.closed = true);
    }
}

/// Cuts what it is given.
pub(super) struct Cutter {
    /// Frames from one part's start to the next.
    length: u64,
    /// Frames before a part that belong to it, and behind its end; at most a quarter of its length.
    lead: u64,
    held: Arc<Held>,
    parts: Sender<Begun>,
    /// Of the open part: where it goes, and where it would end.
    pieces: Sender<Piece>,
    end: u64,
    index: usize,
    /// What the next part begins with, should there be one.
    kept: Vec<Arc<Block>>,
    taken: u64,
}

impl Cutter {
    /// Parts of `length` frames, of which `parts` hears as they begin.
    pub(super) fn new(length: u64, lead: u64, held: Arc<Held>, parts: Sender<Begun>) -> Self {
        let (pieces, first) = channel();
        let begun = Begun { index: 0, start: 0, pieces: first };
        let cutter = Self {
            length,
            lead,
            held,
            parts,
            pieces,
            end: length,
            index: 0,
            kept: Vec::new(),
            taken: 0,
        };
        cutter.tell(begun);
        cutter
    }

    /// Takes what was decoded, once there is room for it; false where nobody wants it.
    pub(super) fn take(&mut self, channels: Vec<Vec<f32>>) -> bool {
        let block = Block { first: self.taken, channels, held: Arc::clone(&self.held) };
        self.taken = block.end();
        let wanted = self.held.take(block.frames());
        self.hand_out(Arc::new(block));
        wanted
    }

    /// The sound is over: what is open goes on to its end.
    pub(super) fn finish(self) {
        for block in self.kept.iter().filter(|block| block.end() > self.end) {
            self.send(Piece::Block(Arc::clone(block)));
        }
    }

    fn hand_out(&mut self, block: Arc<Block>) {
        let end = block.end();
        if end <= self.end {
            self.send(Piece::Block(Arc::clone(&block)));
        }
        if end > self.end - self.lead {
            self.kept.push(block);
        }
        if end >= self.end + self.lead {
            self.begin_next();
        }
    }

    fn begin_next(&mut self) {
        self.send(Piece::EndsAt(self.end));
        let kept = std::mem::take(&mut self.kept);
        for block in kept.iter().filter(|block| block.end() > self.end) {
            self.send(Piece::Block(Arc::clone(block)));
        }
        let (pieces, next) = channel();
        self.pieces = pieces;
        self.index += 1;
        self.tell(Begun { index: self.index, start: self.end, pieces: next });
        self.end += self.length;
        kept.into_iter().for_each(|block| self.hand_out(block));
    }

    fn tell(&self, part: Begun) {
        // Whoever measures may have failed, and then nobody hears of more.
        let _ = self.parts.send(part);
    }

    fn send(&self, piece: Piece) {
        // A part that has what it needs takes no more.
        let _ = self.pieces.send(piece);
    }
}

#[cfg(test)]
mod tests;
