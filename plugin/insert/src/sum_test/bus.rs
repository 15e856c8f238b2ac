//! The test on the bus. The audio thread measures with a [`LiveTest`] that the background thread
//! made; complete, or no longer wanted, it goes back there, to be judged and freed.

use std::sync::Arc;

use ledgerline_measure::sum_test::Audit;
use ledgerline_measure::sum_test::audit::live::{LiveError, LiveShown, LiveState, LiveTest};
use rtrb::{Consumer, Producer, RingBuffer};
use triple_buffer::{Input, Output, triple_buffer};

use super::feed::whole_hz;
use super::place::Place;

/// How many may be on their way at once, in each direction.
const ON_THE_WAY: usize = 4;

/// The audio thread's half.
pub struct BusSide {
    ready: Consumer<Box<LiveTest>>,
    back: Producer<Box<LiveTest>>,
    posted: Input<Option<LiveShown>>,
    test: Option<Box<LiveTest>>,
    /// What the test before the present one showed, as long as that one has not begun.
    earlier: LiveShown,
}

/// The background thread's half.
pub struct BusKeeper {
    ready: Producer<Box<LiveTest>>,
    back: Consumer<Box<LiveTest>>,
    posted: Output<Option<LiveShown>>,
    rate_hz: Option<u32>,
    /// Whether a test is with the audio thread or on its way there.
    out: bool,
    concluded: Option<Arc<Conclusion>>,
}

/// What came of a complete test.
#[derive(Debug)]
pub struct Conclusion {
    /// Which run it was.
    pub run: u32,
    /// The audit, or why there is none.
    pub result: Result<Audit, LiveError>,
}

/// Makes both halves. Allocates.
#[must_use]
pub fn bus_test() -> (BusSide, BusKeeper) {
    let (ready_in, ready_out) = RingBuffer::new(ON_THE_WAY);
    let (back_in, back_out) = RingBuffer::new(ON_THE_WAY);
    let (posted_in, posted_out) = triple_buffer(&None);
    (
        BusSide {
            ready: ready_out,
            back: back_in,
            posted: posted_in,
            test: None,
            earlier: LiveShown::default(),
        },
        BusKeeper {
            ready: ready_in,
            back: back_out,
            posted: posted_out,
            rate_hz: None,
            out: false,
            concluded: None,
        },
    )
}

impl BusSide {
    /// Takes a new test where there is none, and gives back one that is no longer wanted. Neither
    /// waits nor frees.
    pub fn exchange(&mut self, wanted: bool) {
        if !wanted {
            self.give_back();
            self.earlier = LiveShown::after_runs(self.earlier.run);
        } else if self.test.is_none()
            && let Ok(mut test) = self.ready.pop()
        {
            test.follow(&self.earlier);
            self.test = Some(test);
        }
    }

    /// Whether a test is there to measure with.
    #[must_use]
    pub fn is_ready(&self) -> bool {
        self.test.is_some()
    }

    /// Takes what the bus carried from a place on. `channels[channel][frame]`.
    pub fn process(&mut self, place: Place, channels: &[&[f32]]) {
        let Some(test) = &mut self.test else { return };
        match place.playing_at {
            Some(frame) => test.process(frame, channels),
            None => test.stop(),
        }
        if test.shown().state == LiveState::Complete {
            self.give_back();
        }
    }

    /// The transport, or processing, stops.
    pub fn stop(&mut self) {
        if let Some(test) = &mut self.test {
            test.stop();
        }
    }

    /// What has been found out so far.
    #[must_use]
    pub fn shown(&self) -> &LiveShown {
        match &self.test {
            // A complete table stays until the next test begins.
            Some(test) if test.shown().state != LiveState::Waiting => test.shown(),
            _ => &self.earlier,
        }
    }

    /// Hands what has been found out so far to the background, or that this instance does not hear
    /// the bus. Never waits; what has not been looked at yet is replaced.
    pub fn post(&mut self, wanted: bool) {
        let shown = wanted.then(|| *self.shown());
        self.posted.write(shown);
    }

    /// Frees every test, for another bus. Not for the audio thread.
    pub fn discard(&mut self) {
        self.stop();
        self.earlier = *self.shown();
        self.test = None;
        while self.ready.pop().is_ok() {}
    }

    fn give_back(&mut self) {
        self.earlier = *self.shown();
        if self.back.slots() > 0
            && let Some(test) = self.test.take()
        {
            // There is space: this thread alone fills it, and has just looked.
            let _ = self.back.push(test);
        }
    }
}

impl BusKeeper {
    /// The audio thread has no test any more, and the bus has this rate now.
    pub fn activate(&mut self, rate_hz: f64) {
        while self.back.pop().is_ok() {}
        self.rate_hz = whole_hz(rate_hz);
        self.out = false;
    }

    /// Keeps a test with the audio thread while one is `wanted`, and judges those that are
    /// complete. The feeds play at `level_dbfs`.
    pub fn look(&mut self, wanted: bool, level_dbfs: f64) {
        let mut complete = None;
        while let Ok(test) = self.back.pop() {
            self.out = false;
            if test.shown().state == LiveState::Complete {
                complete = Some(test);
            }
        }
        if wanted && !self.out {
            self.offer();
        }
        // After the next test has been offered: judging takes longer than a pause between two.
        if let Some(test) = complete {
            let result = test.conclude(level_dbfs);
            self.concluded = Some(Arc::new(Conclusion { run: test.shown().run, result }));
        }
    }

    /// What the audio thread has posted since the last look, if anything.
    pub fn posted(&mut self) -> Option<Option<LiveShown>> {
        self.posted.update().then(|| *self.posted.output_buffer())
    }

    /// The bus's sample rate in Hz, if the test can count it.
    #[must_use]
    pub fn rate_hz(&self) -> Option<u32> {
        self.rate_hz
    }

    /// Why no test can play on this bus, if none can.
    #[must_use]
    pub fn refusal(&self) -> Option<String> {
        let possible = self
            .rate_hz
            .is_some_and(|rate_hz| ledgerline_measure::sum_test::Schedule::new(rate_hz).is_some());
        (!possible).then(|| {
            "The sum test does not exist at this sample rate: feeds are silent and nothing is \
             compared. It plays from 44.1 to 192 kHz."
                .to_owned()
        })
    }

    /// What came of a run, if it has been judged.
    #[must_use]
    pub fn conclusion(&self, run: u32) -> Option<&Arc<Conclusion>> {
        self.concluded.as_ref().filter(|conclusion| conclusion.run == run)
    }

    fn offer(&mut self) {
        if self.ready.slots() > 0
            && let Some(test) = self.rate_hz.and_then(LiveTest::new)
        {
            self.out = self.ready.push(Box::new(test)).is_ok();
        }
    }
}
