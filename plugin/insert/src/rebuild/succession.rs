//! How one meter with its filters follows another on the audio thread. The meter changes at once.
//! Filters that are heard stay until those of the next are full and have faded in; with the same
//! edges they simply stay.

use ledgerline_measure::damage::limit;
use ledgerline_measure::{ClipAt, Meter, Settings};

use super::{Measuring, Taker};
use crate::choices::Listen;
use crate::listen::{Ear, Filters};

/// What measures and what is listened through, now and on its way out.
pub struct Succession {
    taker: Taker,
    present: Option<Box<Measuring>>,
    /// What was before: heard still, or without a way back yet.
    leaving: Option<Box<Measuring>>,
    ear: Ear,
}

impl Succession {
    /// Nothing yet; what comes is taken from `taker`.
    #[must_use]
    pub fn new(taker: Taker) -> Self {
        Self { taker, present: None, leaving: None, ear: Ear::new(0.0) }
    }

    /// The meter; `None` where nothing can be measured.
    #[must_use]
    pub fn meter(&self) -> Option<&Meter> {
        self.present.as_ref()?.meter.as_ref()
    }

    /// The meter, to measure with.
    pub fn meter_mut(&mut self) -> Option<&mut Meter> {
        self.present.as_mut()?.meter.as_mut()
    }

    /// The settings by which it is measured.
    #[must_use]
    pub fn settings(&self) -> Option<Settings> {
        Some(self.present.as_ref()?.settings)
    }

    /// Begins anew at a sample rate, with what is there. Frees what is on its way, in or out. Not
    /// for the audio thread.
    pub fn begin(&mut self, rate_hz: f64) {
        self.taker.discard();
        self.leaving = None;
        self.ear = Ear::new(rate_hz);
        self.stop_listening();
    }

    /// Puts another one in the place of what is there, which is freed. Not for the audio thread.
    pub fn put(&mut self, measuring: Box<Measuring>) {
        self.present = Some(measuring);
    }

    /// Takes the newest that was made, and says whether there was one. While filters are on their
    /// way in or out, it waits. Neither waits nor frees itself.
    pub fn take(&mut self) -> bool {
        self.let_go();
        let priming = filters(&mut self.present).is_some_and(|filters| filters.is_priming());
        if self.leaving.is_some() || priming {
            return false;
        }
        let Some(mut next) = self.taker.newest() else { return false };
        if let Some(mut old) = self.present.take() {
            if old.settings.edges == next.settings.edges && old.filters.is_some() {
                std::mem::swap(&mut old.filters, &mut next.filters);
            }
            self.leaving = Some(old);
        }
        self.present = Some(next);
        self.let_go();
        true
    }

    /// Says where clipping is thought, for who listens to what it would take off.
    pub fn set_limit(&mut self, clip_at: ClipAt, ceiling_db: f64) {
        let limit = limit(clip_at, ceiling_db);
        for measuring in [&mut self.present, &mut self.leaving] {
            if let Some(filters) = filters(measuring) {
                filters.set_limit(limit);
            }
        }
    }

    /// Replaces what is in `main[channel][frame]` by what `mode` lets hear.
    pub fn listen(&mut self, mode: Listen, main: &mut [&mut [f32]]) {
        let (present, leaving) = (filters(&mut self.present), filters(&mut self.leaving));
        self.ear.process(mode, present, leaving, main);
    }

    /// For how many frames the output may sound on after the input.
    #[must_use]
    pub fn tail_frames(&self) -> usize {
        self.ear.tail_frames()
    }

    /// Whatever was listened to has ended, without a fade: nothing is heard any more, or what is
    /// heard is another take.
    pub fn stop_listening(&mut self) {
        self.ear.stop();
        for measuring in [&mut self.present, &mut self.leaving] {
            if let Some(filters) = filters(measuring) {
                filters.rest();
            }
        }
    }

    /// Gives back what has left, once nothing of it is heard.
    fn let_go(&mut self) {
        if filters(&mut self.leaving).is_none_or(|filters| filters.is_out()) {
            self.taker.give_back(&mut self.leaving);
        }
    }
}

fn filters(measuring: &mut Option<Box<Measuring>>) -> Option<&mut Filters> {
    measuring.as_mut()?.filters.as_mut()
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use ledgerline_measure::{Edges, Halves, TruePeakFilter};

    use super::super::{Bus, Maker, ON_THE_WAY, exchange};
    use super::*;

    const BUS: Bus = Bus { rate_hz: 48_000.0, main: 2, side_chain: 0 };

    fn settings(halves: Halves) -> Settings {
        Settings { halves, ..Settings::default() }
    }

    fn one(settings: Settings) -> Box<Measuring> {
        Measuring::build(BUS, settings).0
    }

    fn succession() -> (Succession, Maker) {
        let (taker, maker) = exchange();
        let mut succession = Succession::new(taker);
        succession.begin(BUS.rate_hz);
        succession.put(one(settings(Halves::LeftRight)));
        (succession, maker)
    }

    fn halves(succession: &Succession) -> Halves {
        succession.settings().unwrap().halves
    }

    #[test]
    fn the_newest_is_taken_and_the_old_ones_come_back_to_be_freed() {
        let (mut succession, mut maker) = succession();
        assert!(!succession.take(), "nothing was offered");

        assert!(maker.offer(one(settings(Halves::Mono))).is_ok());
        assert!(maker.offer(one(settings(Halves::MainSidechain))).is_ok());
        assert!(succession.take());
        assert_eq!(halves(&succession), Halves::MainSidechain);
        let back = [maker.retired.pop().unwrap(), maker.retired.pop().unwrap()];
        assert_eq!(back.map(|b| b.settings.halves), [Halves::Mono, Halves::LeftRight]);
        assert!(maker.retired.pop().is_err());
    }

    #[test]
    fn without_space_to_give_back_the_new_one_waits() {
        let (mut succession, mut maker) = succession();
        // One more than there is space for stays where it is.
        for _ in 0..=ON_THE_WAY {
            assert!(maker.offer(one(settings(Halves::Mono))).is_ok());
            assert!(succession.take());
        }
        assert!(maker.offer(one(settings(Halves::MainSidechain))).is_ok());
        assert!(!succession.take(), "the old one would have had to be freed here");
        maker.free();
        assert!(succession.take());
        assert_eq!(halves(&succession), Halves::MainSidechain);
    }

    /// A loud tone that is heard in the input, with a soft one beyond the edge.
    fn block(from: usize) -> [f32; 480] {
        let tone = |hz: f64, n: usize| (TAU * hz * (from + n) as f64 / BUS.rate_hz).sin();
        std::array::from_fn(|n| (0.5 * tone(1000.0, n) + 0.001 * tone(22_500.0, n)) as f32)
    }

    #[test]
    fn whatever_is_rebuilt_while_hidden_content_is_heard_the_input_is_not() {
        let (mut succession, mut maker) = succession();
        let bs1770 = Settings { true_peak: TruePeakFilter::Bs1770, ..Settings::default() };
        let edges = |low_hz, high_hz| Edges::new(low_hz, high_hz).unwrap();
        let rebuilt = [
            Settings { edges: edges(40.0, 20_000.0), ..Settings::default() },
            Settings { edges: edges(20.0, 19_000.0), ..Settings::default() },
            // Nothing lies above this edge.
            Settings { edges: edges(20.0, 40_000.0), ..Settings::default() },
            // What cannot be measured.
            settings(Halves::Mono),
            settings(Halves::MainSidechain),
            bs1770,
        ];
        let (mut heard, mut last, mut frame) = (Vec::new(), 0.0, 0);
        for settings in rebuilt {
            for turn in 0..60 {
                if turn == 10 {
                    assert!(maker.offer(one(settings)).is_ok());
                }
                succession.take();
                maker.free();
                let (mut left, mut right) = (block(frame), block(frame));
                succession.listen(Listen::Hidden, &mut [&mut left, &mut right]);
                heard.extend(left);
                assert_eq!(left, right);
                frame += left.len();
            }
            assert_eq!(succession.settings(), Some(settings), "never taken");
        }
        for sample in heard {
            assert!(sample.abs() < 0.00105, "{sample} where only what is hidden was asked for");
            assert!((sample - last as f32).abs() < 0.001, "a step");
            last = f64::from(sample);
        }
    }

    #[test]
    fn filters_that_stay_are_heard_without_a_gap() {
        let (mut succession, mut maker) = succession();
        let mut plain = Succession::new(exchange().0);
        plain.begin(BUS.rate_hz);
        plain.put(one(settings(Halves::LeftRight)));
        for turn in 0..80 {
            if turn == 40 {
                assert!(maker.offer(one(settings(Halves::Mono))).is_ok());
            }
            assert_eq!(succession.take(), turn == 40);
            let (mut heard, mut expected) = (block(480 * turn), block(480 * turn));
            succession.listen(Listen::Audible, &mut [&mut heard]);
            plain.listen(Listen::Audible, &mut [&mut expected]);
            assert_eq!(heard, expected, "in turn {turn}");
        }
    }
}
