//! What passes, on its way to the entries: copied piece by piece, with what happens between.

use std::time::Duration;

use ledgerline_measure::Settings;
use ledgerline_measure::entries::OpenedBy;

use super::transport::{Step, Transport};
use crate::entries::stream::StreamIn;
use crate::sum_test::place::Place;

/// The way to the entries, and the transport that it follows.
#[derive(Default)]
pub(super) struct Passing {
    transport: Transport,
    /// None before the first activation.
    stream: Option<StreamIn>,
    /// Whether a render waits where there is no space: not for somebody who never comes.
    waits: bool,
}

impl Passing {
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
