//! What passes, on its way to the entries and to the history: copied piece by piece, with what happens
//! between.

use std::time::Duration;

use ledgerline_measure::entries::OpenedBy;
use ledgerline_measure::{Meter, Settings};

use super::transport::{Step, Transport};
use crate::entries::stream::StreamIn;
use crate::handover::Snapshot;
use crate::history::Feed;
use crate::sum_test::place::Place;

/// The ways to the entries and to the history, and the transport that both follow.
pub(super) struct Passing {
    transport: Transport,
    /// None before the first activation.
    stream: Option<StreamIn>,
    /// Whether a render waits where there is no space: not for somebody who never comes.
    waits: bool,
    history: Feed,
}

impl Passing {
    pub(super) fn new(history: Feed) -> Self {
        Self { transport: Transport::default(), stream: None, waits: false, history }
    }

    /// So much has been handed to the meter; the transport stands at `host_s`.
    pub(super) fn measured(&mut self, seconds: f64, meter: &mut Meter, host_s: Option<f64>) {
        self.history.pass(seconds, meter, host_s);
    }

    /// A reset is undone: `meter` had `overs` since then.
    pub(super) fn undo_reset(&mut self, overs: u64, meter: &Meter) {
        self.history.undo_reset(overs, meter);
    }

    /// The host has stopped processing.
    pub(super) fn stop(&mut self) {
        self.history.stop();
        self.tell(|stream| {
            stream.splice();
            stream.tell();
        });
    }

    /// A second has passed; readings are `delay_s` behind.
    pub(super) fn keep(&mut self, snapshot: Snapshot, delay_s: f64, host_s: Option<f64>) {
        self.history.keep(snapshot, delay_s, host_s);
    }

    /// What passes goes here from now on. Frees what was there.
    pub(super) fn begin(&mut self, stream: StreamIn) {
        (self.stream, self.waits) = (Some(stream), true);
    }

    /// A block follows, at whose first frame the transport stands at `place`. Says whether it goes on
    /// from the one before.
    pub(super) fn follow(&mut self, place: Place, frames: usize, rate_hz: Option<f64>) -> bool {
        let step = self.transport.follow(place, frames);
        let host_s = self.transport.place().playing_at_s(rate_hz);
        let Some(stream) = &mut self.stream else { return step == Step::GoesOn };
        match step {
            Step::GoesOn => {}
            Step::StartOrStop | Step::LoopReturn => stream.splice(),
            Step::Jump => {
                stream.splice();
                stream.open(OpenedBy::Jump);
            }
        }
        stream.place(host_s, step != Step::GoesOn);
        step == Step::GoesOn
    }

    /// Tells of something that lies before the next frame.
    pub(super) fn tell(&mut self, what: impl FnOnce(&mut StreamIn)) {
        if let Some(stream) = &mut self.stream {
            what(stream);
        }
    }

    /// What comes is measured by these settings.
    pub(super) fn settings(&mut self, settings: Option<Settings>) {
        if let (Some(stream), Some(settings)) = (&mut self.stream, settings) {
            stream.settings(settings);
        }
    }

    /// Hands a piece over.
    pub(super) fn push(&mut self, main: &[&[f32]], side_chain: &[&[f32]], bypassed: bool) {
        if let Some(stream) = &mut self.stream {
            stream.push(main, side_chain, bypassed);
        }
    }

    /// In an offline render, waits until there is space for so many frames, up to so long: nobody
    /// listens, and audio comes faster than entries are found. `heard` says that somebody waits.
    pub(super) fn wait_for_space(&mut self, frames: usize, longest_ms: u32, heard: impl Fn()) {
        let Some(stream) = &self.stream else { return };
        if stream.has_space(frames) {
            self.waits = true;
            return;
        }
        for _ in 0..if self.waits { longest_ms } else { 0 } {
            heard();
            std::thread::sleep(Duration::from_millis(1));
            if stream.has_space(frames) {
                return;
            }
        }
        self.waits = false;
    }
}
