//! Signals through the meter, and the one helper that compares a reading with what is expected.

use ledgerline_measure::{ChannelRole, Level, Meter, Reading, Settings, View};

use crate::signals::Stereo;

/// Block length that the helpers feed by: what a host may well use.
pub const BLOCK_FRAMES: usize = 1024;

/// A meter for a stereo bus.
///
/// # Panics
///
/// When the rate or the settings cannot be measured.
#[must_use]
pub fn stereo_meter(rate_hz: f64, settings: Settings) -> Meter {
    Meter::new(rate_hz, 2, 0, settings).expect("a stereo bus can be measured")
}

/// Feeds a stretch in blocks, without finishing.
pub fn feed(meter: &mut Meter, signal: &Stereo) {
    feed_by(meter, signal, BLOCK_FRAMES);
}

/// Feeds a stretch in blocks of a length, without finishing.
pub fn feed_by(meter: &mut Meter, signal: &Stereo, block_frames: usize) {
    let blocks = signal.left.chunks(block_frames).zip(signal.right.chunks(block_frames));
    for (left, right) in blocks {
        meter.process(&[left, right], &[]);
    }
}

/// The reading of a whole signal on a meter of its own, with all settings at their defaults.
#[must_use]
pub fn read(signal: &Stereo) -> Reading {
    read_with(signal, Settings::default(), &View::default())
}

/// The reading of a whole signal on a meter of its own.
#[must_use]
pub fn read_with(signal: &Stereo, settings: Settings, view: &View) -> Reading {
    read_on(&mut stereo_meter(signal.rate_hz, settings), signal, view)
}

/// The reading of a whole signal on a meter that is cleared before: no new filters.
#[must_use]
pub fn read_on(meter: &mut Meter, signal: &Stereo, view: &View) -> Reading {
    meter.reset();
    feed(meter, signal);
    meter.finish();
    meter.reading(view)
}

/// The reading of a whole bus of any number of channels of one length, on a meter of its own.
///
/// # Panics
///
/// When the rate or the number of channels cannot be measured.
#[must_use]
pub fn read_channels(rate_hz: f64, roles: &[ChannelRole], channels: &[Vec<f32>]) -> Reading {
    let mut meter = Meter::for_channels(rate_hz, roles, Settings::default())
        .expect("a bus that can be measured");
    feed_channels(&mut meter, channels);
    meter.finish();
    meter.reading(&View::default())
}

/// Feeds channels of one length in blocks, without finishing.
pub fn feed_channels(meter: &mut Meter, channels: &[Vec<f32>]) {
    let length = channels.first().map_or(0, Vec::len);
    for start in (0..length).step_by(BLOCK_FRAMES) {
        let range = start..length.min(start + BLOCK_FRAMES);
        let block: Vec<&[f32]> = channels.iter().map(|channel| &channel[range.clone()]).collect();
        meter.process(&block, &[]);
    }
}

/// A signal that plays while it is read.
///
/// A meter's readings lag behind its input by its filters' delay, so a reading *at* a frame is taken
/// when the meter has measured that frame: a little later, and before the next hop of 10 ms ends.
pub struct Live<'a> {
    meter: Meter,
    signal: &'a Stereo,
    fed: usize,
}

impl<'a> Live<'a> {
    /// A signal at its beginning, on a meter of its own. Silence follows its end.
    #[must_use]
    pub fn new(signal: &'a Stereo) -> Self {
        Self { meter: stereo_meter(signal.rate_hz, Settings::default()), signal, fed: 0 }
    }

    /// The reading once `frame` frames are measured; frames have to come in order.
    pub fn reading_at(&mut self, frame: usize) -> Reading {
        let until = (frame + self.meter.delay_frames()).max(self.fed);
        let length = self.signal.frames();
        let mut stretch = self.signal.cut(self.fed.min(length)..until.min(length));
        stretch.left.resize(until - self.fed, 0.0);
        stretch.right.resize(until - self.fed, 0.0);
        feed(&mut self.meter, &stretch);
        self.fed = until;
        self.meter.reading(&View::default())
    }
}

/// Comparisons on one signal. All of them are made before the test fails, and the failure names the
/// signal, the source of the expectation, what was expected and what came.
#[derive(Debug)]
pub struct Checks {
    signal: String,
    source: &'static str,
    made: usize,
    failures: Vec<String>,
}

impl Checks {
    /// Comparisons on a signal, with the standard, formula or library that says what to expect.
    #[must_use]
    pub fn of(signal: impl Into<String>, source: &'static str) -> Self {
        Self { signal: signal.into(), source, made: 0, failures: Vec::new() }
    }

    /// A level has to lie within `tolerance_db` of the expected one. `−∞` is met by silence alone.
    pub fn level(&mut self, what: &str, got: Level, expected_db: f64, tolerance_db: f64) {
        let meets = match got.db() {
            None => false,
            Some(db) if expected_db.is_infinite() => db == expected_db,
            Some(db) => (db - expected_db).abs() <= tolerance_db,
        };
        self.note(meets, || {
            format!("{what}: expected {expected_db:.4} ±{tolerance_db}, got {got:.4}")
        });
    }

    /// A number has to exist and lie within `tolerance` of the expected one.
    pub fn number(&mut self, what: &str, got: Option<f64>, expected: f64, tolerance: f64) {
        let meets = got.is_some_and(|got| (got - expected).abs() <= tolerance);
        self.note(meets, || format!("{what}: expected {expected:.6} ±{tolerance}, got {got:?}"));
    }

    /// A level has to be at or below a bound; silence is.
    pub fn at_most(&mut self, what: &str, got: Level, bound_db: f64) {
        let meets = got.db().is_some_and(|db| db <= bound_db);
        self.note(meets, || format!("{what}: expected at most {bound_db:.4}, got {got:.4}"));
    }

    /// There must be no such reading.
    pub fn none(&mut self, what: &str, got: Level) {
        self.note(!got.exists(), || format!("{what}: expected no reading, got {got:.4}"));
    }

    /// Anything else, in words.
    pub fn that(&mut self, meets: bool, expected: &str, got: impl std::fmt::Debug) {
        self.note(meets, || format!("expected {expected}, got {got:?}"));
    }

    fn note(&mut self, meets: bool, failure: impl FnOnce() -> String) {
        self.made += 1;
        if !meets {
            self.failures.push(failure());
        }
    }
}

impl Drop for Checks {
    fn drop(&mut self) {
        if std::thread::panicking() {
            return;
        }
        assert!(self.made > 0, "{}: nothing was compared", self.signal);
        assert!(
            self.failures.is_empty(),
            "{} ({}): {} of {} comparisons failed\n  {}",
            self.signal,
            self.source,
            self.failures.len(),
            self.made,
            self.failures.join("\n  ")
        );
    }
}
