//! The meter of the user's mixer, in the making. Peaks, RMS and loudness are those of the books; a
//! needle and programme meters run here, on every channel, and only while one is chosen.

mod programme;
mod usual;

use std::collections::VecDeque;

use pulp::Arch;

use super::books::Books;
use super::filters::Filters;
use super::{HOPS_A_ROW, HOPS_A_SECOND};
use crate::batch::{BATCH_FRAMES, PairBatch};
use crate::book::BandBook;
use crate::detector::{Detector, MeterKind, Needle, ProgrammeType};
use crate::level::Level;
use crate::reading::{WindowLevels, YourMeterReading};
use crate::settings::{View, YourMeter};
use crate::signal::BUS;
use programme::Programme;
use usual::Usual;

/// Hops in the window of RMS: 300 ms.
const RMS_HOPS: usize = 30;
/// Rows that a peak can be held for: ten seconds.
const MOST_ROWS: usize = 100;
/// First gate of BS.1770-5, in LUFS: what lies below it is no programme.
const GATE_LUFS: f64 = -70.0;

/// What moves by itself on a pair of channels. Where the second is missing it stays at rest.
#[derive(Clone, Copy)]
struct Pair {
    /// Fed with the mean magnitude of each batch: what moves within one is nothing to a needle.
    needles: [Needle; 2],
    programmes: [Programme; 2],
}

/// See the module.
pub(super) struct Yours {
    arch: Arch,
    kind: Option<MeterKind>,
    pairs: Vec<Pair>,
    /// Where what moves stands, or stood when the sound was cut off, linear.
    now: f32,
    /// The highest in the row that is open, linear.
    row: f32,
    /// The highest since reset, linear, of what is not kept elsewhere.
    highest: f32,
    /// The highest of each latest row, oldest first, linear.
    rows: VecDeque<f32>,
    usual: Usual,
}

impl Yours {
    pub(super) fn new(rate_hz: f64, pairs: usize) -> Self {
        let pair = Pair {
            needles: [Needle::new(rate_hz / BATCH_FRAMES as f64); 2],
            programmes: [ProgrammeType::I, ProgrammeType::II]
                .map(|programme| Programme::new(rate_hz, programme)),
        };
        Self {
            arch: Arch::new(),
            kind: None,
            pairs: vec![pair; pairs],
            now: 0.0,
            row: 0.0,
            highest: 0.0,
            rows: VecDeque::with_capacity(MOST_ROWS),
            usual: Usual::new(),
        }
    }

    /// Chooses the kind of meter, or none. Another kind begins from rest.
    pub(super) fn choose(&mut self, kind: Option<MeterKind>) {
        if self.kind != kind {
            self.kind = kind;
            self.empty();
            self.reset();
            self.now = 0.0;
        }
    }

    /// The kind that is chosen.
    pub(super) fn kind(&self) -> Option<MeterKind> {
        self.kind
    }

    /// Whether it is one that moves by itself.
    fn moves(&self) -> bool {
        self.remembers() || self.kind.is_some_and(|kind| kind.detector == Detector::Needle)
    }

    /// Whether what it shows goes on for seconds.
    pub(super) fn remembers(&self) -> bool {
        let detector = self.kind.map(|kind| kind.detector);
        matches!(detector, Some(Detector::Programme1 | Detector::Programme2))
    }

    /// Forgets what it showed; what moves stays where it is.
    pub(super) fn reset(&mut self) {
        (self.row, self.highest) = (0.0, 0.0);
        self.rows.clear();
        self.usual.reset();
    }

    /// As before the stream began.
    pub(super) fn empty(&mut self) {
        for pair in &mut self.pairs {
            pair.needles.iter_mut().for_each(Needle::reset);
            pair.programmes.iter_mut().for_each(Programme::reset);
        }
    }

    /// Moves on from where `other` stands.
    pub(super) fn follow(&mut self, other: &Self) {
        self.kind = other.kind;
        self.pairs.copy_from_slice(&other.pairs);
        self.now = other.now;
    }

    /// Goes on where `later` stands, whose rows come for themselves.
    pub(super) fn append(&mut self, later: Self) {
        (self.pairs, self.now) = (later.pairs, later.now);
        self.raise(later.row);
    }

    /// Lets a batch run through what moves, without reading it.
    pub(super) fn pass(&mut self, filters: &Filters) {
        if self.moves() {
            self.shown_of(filters);
        }
    }

    /// Takes a batch; behind the last frames of a sound there is silence in it.
    pub(super) fn take(&mut self, filters: &Filters) {
        if !self.moves() {
            return;
        }
        let shown = self.shown_of(filters);
        self.raise(shown);
        self.now = self.stands();
    }

    /// Where what moves stands, on whichever channel it is highest, linear.
    fn stands(&self) -> f32 {
        let now = self.pairs.iter().map(|pair| match self.kind.map(|kind| kind.detector) {
            Some(Detector::Needle) => pair.deflection(),
            Some(Detector::Programme1) => pair.programmes[0].linear(),
            Some(Detector::Programme2) => pair.programmes[1].linear(),
            _ => 0.0,
        });
        now.fold(0.0, f32::max)
    }

    fn raise(&mut self, shown: f32) {
        self.row = self.row.max(shown);
        self.highest = self.highest.max(shown);
    }

    /// The highest that what moves shows of a batch, linear.
    fn shown_of(&mut self, filters: &Filters) -> f32 {
        let Some(kind) = self.kind else { return 0.0 };
        let batches = if kind.audible { &filters.left.audible } else { &filters.left.whole };
        let shown = self.pairs.iter_mut().zip(batches).map(|(pair, batch)| match kind.detector {
            Detector::Needle => pair.deflect(batch),
            Detector::Programme1 => pair.programmes[0].take(self.arch, batch),
            Detector::Programme2 => pair.programmes[1].take(self.arch, batch),
            _ => 0.0,
        });
        shown.fold(0.0, f32::max)
    }

    /// Follows the RMS, each time a hop has gone into the books.
    pub(super) fn end_hop(&mut self, books: &Books, hops: u64, channels: f64) {
        let Some(MeterKind { detector: Detector::Rms, audible }) = self.kind else { return };
        if hops >= RMS_HOPS as u64 {
            let power = rms_power(band(books, audible), channels);
            self.raise(power.sqrt() as f32);
        }
    }

    /// Ends a row, in which what moves by itself and the true peak have shown `late` at most: all else is
    /// in the books. Returns its highest.
    pub(super) fn end_row(&mut self, books: &Books, late: f32) -> Level {
        let Some(kind) = self.kind else { return Level::NONE };
        let book = band(books, kind.audible);
        let row = match kind.detector {
            Detector::SamplePeak => book.latest_peaks(HOPS_A_ROW as usize)[BUS],
            Detector::Rms => self.row,
            Detector::Momentary => amplitude(book.loudness().momentary(BUS)),
            _ => late,
        };
        self.highest = self.highest.max(row);
        self.row = 0.0;
        if self.rows.len() == MOST_ROWS {
            self.rows.pop_front();
        }
        self.rows.push_back(row);
        let shown = Level::from_amplitude(f64::from(row));
        let programme = books.audible.loudness().momentary(BUS);
        if programme.finite().is_some_and(|lufs| lufs > GATE_LUFS) {
            self.usual.push(shown);
        }
        shown
    }

    /// What a row that ends here has for [`end_row`](Self::end_row); `true_peaks` are those of both bands.
    pub(super) fn late(&self, true_peaks: [f32; 2]) -> f32 {
        match self.kind {
            Some(MeterKind { detector: Detector::TruePeak, audible }) => {
                true_peaks[usize::from(audible)]
            }
            _ => self.row,
        }
    }

    /// Begins a row without ending one: that of a part is ended where parts are joined.
    pub(super) fn begin_row(&mut self) {
        self.row = 0.0;
    }

    /// What it shows. `channels` is how many the bus has, `hops` how many have ended; `audible` is read
    /// of the audible bus.
    pub(super) fn read(
        &self,
        books: &Books,
        view: &View,
        (hops, channels): (u64, f64),
        audible: &WindowLevels,
        lift_db: Level,
    ) -> Option<YourMeterReading> {
        let kind = self.kind?;
        let meter = view.your_meter.filter(|meter| meter.kind == kind)?;
        let book = band(books, kind.audible);
        let linear = |shown: f64| Level::from_amplitude(shown);
        let is_known = hops > 0;
        let [shows_db, highest_db] = match kind.detector {
            _ if !is_known => [Level::NONE; 2],
            Detector::SamplePeak => {
                let window = (view.peak_window_s * HOPS_A_SECOND).round() as usize;
                [book.latest_peaks(window)[BUS], book.held()[BUS]].map(|x| linear(f64::from(x)))
            }
            Detector::TruePeak => {
                let rows = (view.peak_window_s * HOPS_A_SECOND) as usize / HOPS_A_ROW as usize;
                let latest = self.rows.iter().rev().take(rows.max(1)).fold(0f32, |a, &b| a.max(b));
                [latest, book.true_peak(BUS)].map(|x| linear(f64::from(x)))
            }
            Detector::Rms if hops < RMS_HOPS as u64 => [Level::NONE; 2],
            Detector::Rms => {
                [rms_power(book, channels).sqrt(), f64::from(self.highest)].map(linear)
            }
            Detector::Momentary => {
                [book.loudness().momentary(BUS), book.loudness().momentary_max(BUS)]
            }
            Detector::Needle | Detector::Programme1 | Detector::Programme2 => {
                [self.now, self.highest].map(|x| linear(f64::from(x)))
            }
        };
        let bare = YourMeterReading {
            meter: YourMeter { offset_db: 0.0, ..meter },
            shows_db,
            over_audible_db: shows_db.unless_silent().minus(audible.rms_dbfs),
            highest_db,
            usual_db: self.usual.median(),
            highest_at_target_db: Level::NONE,
            usual_at_target_db: Level::NONE,
        };
        Some(bare.of(meter, lift_db))
    }
}

impl Pair {
    /// Moves the needles by a batch, and returns where the higher one stands.
    fn deflect(&mut self, batch: &PairBatch) -> f32 {
        for (needle, samples) in self.needles.iter_mut().zip([&batch.a, &batch.b]) {
            let sum: f32 = samples.iter().map(|x| x.abs()).sum();
            needle.take(&[sum / BATCH_FRAMES as f32]);
        }
        self.deflection()
    }

    /// Where the higher needle stands, linear.
    fn deflection(&self) -> f32 {
        let [a, b] = self.needles.each_ref().map(|needle| needle.linear() as f32);
        a.max(b)
    }
}

fn band(books: &Books, audible: bool) -> &BandBook {
    if audible { &books.audible } else { &books.whole }
}

/// Mean square of the bus over the latest 300 ms.
fn rms_power(book: &BandBook, channels: f64) -> f64 {
    let (energies, frames) = book.latest(RMS_HOPS);
    energies.bus() / (frames as f64 * channels).max(1.0)
}

fn amplitude(level: Level) -> f32 {
    level.power().map_or(0.0, |power| power.sqrt() as f32)
}
