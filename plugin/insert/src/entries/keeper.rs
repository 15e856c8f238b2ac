//! The background's end: takes the stream, finds the entries in it, and pins them for the editor.

mod hearing;
mod shown;

use ledgerline_measure::entries::Entry;
use ledgerline_measure::{Settings, View};
use time::OffsetDateTime;

use super::board::Board;
use super::stream::{Next, StreamIn, StreamOut, stream};
use crate::bus::Bus;
use hearing::{Hearing, MOST_FRAMES};
use shown::Shown;

/// The entries of one instance.
#[derive(Default)]
pub struct Keeper {
    stream: Option<StreamOut>,
    /// From the first activation on.
    hearing: Option<Hearing>,
    shown: Shown,
}

impl Keeper {
    /// Hears a bus from now on, measured by these settings; what was heard before has ended. Allocates,
    /// and returns the audio thread's end of the stream.
    pub fn begin(&mut self, bus: Bus, settings: Settings, offline: bool) -> StreamIn {
        let (stream_in, stream_out) = stream(bus);
        self.stream = Some(stream_out);
        let hearing = self.hearing.get_or_insert_with(|| Hearing::new(bus));
        hearing.begin(bus, settings, offline);
        stream_in
    }

    /// Takes what has come, shown by `view`; `ended` hears of each entry that has ended. A render sends
    /// on and on: `meanwhile` is called between pieces.
    pub fn take(
        &mut self,
        view: View,
        board: &Board,
        mut ended: impl FnMut(&Entry),
        mut meanwhile: impl FnMut(),
    ) {
        let (Some(stream), Some(hearing)) = (&mut self.stream, &mut self.hearing) else { return };
        hearing.set_view(view);
        let now = OffsetDateTime::now_utc();
        let mut waiting = stream.waiting();
        while let Some(next) = stream.upcoming() {
            match next {
                Next::Sound(frames) => {
                    let utc = hearing.came(now, waiting);
                    let count = stream.take(frames.min(MOST_FRAMES), |main, side_chain| {
                        hearing.sound(main, side_chain, utc);
                    });
                    waiting = waiting.saturating_sub(count);
                }
                Next::Event(event) => hearing.event(event, now),
            }
            self.shown.note(hearing, &mut ended);
            meanwhile();
        }
        self.shown.pin(hearing, board);
    }

    /// Ends the entry under way: no more comes.
    pub fn end(&mut self, board: &Board, mut ended: impl FnMut(&Entry)) {
        self.stream = None;
        let Some(hearing) = &mut self.hearing else { return };
        hearing.finish(OffsetDateTime::now_utc());
        self.shown.note(hearing, &mut ended);
        self.shown.pin(hearing, board);
    }
}
