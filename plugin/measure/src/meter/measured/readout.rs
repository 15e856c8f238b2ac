//! Turns what was measured into a reading.

use super::{HOPS_A_ROW, HOPS_A_SECOND, Measured};
use crate::book::{BandBook, BusEnergies};
use crate::causes::{Account, Causes};
use crate::decorrelation::Decorrelation;
use crate::halves;
use crate::history::{HistoryLevels, HistoryRow};
use crate::level::{EQUAL_POWER_SUM_DB, Level};
use crate::reading::{
    BandReading, BandWindows, HalvesReading, Levels, Limiter, READING_SCHEMA, Reading, Room,
    WindowLevels, Windows,
};
use crate::room;
use crate::settings::{Halves, View};
use crate::signal::{A, B, BUS, SUM};
use crate::verdict;

impl Measured {
    /// All readings at this moment, with what is not measured here.
    pub(in crate::meter) fn read(
        &self,
        view: &View,
        decorrelation_ms: Decorrelation,
        invalid_frames: u64,
    ) -> Reading {
        let measured = self;
        let readout = Readout { measured, view };
        let whole = readout.band(&measured.books.whole);
        let audible = readout.band(&measured.books.audible);
        let room = room::read(&whole, &audible, view);
        let windows = readout.windows(invalid_frames);
        let mut reading = Reading {
            schema: READING_SCHEMA,
            time_s: measured.frames as f64 / measured.rate_hz,
            sample_rate_hz: measured.rate_hz,
            halves: measured.settings.halves,
            causes: causes(measured, &room),
            fold_down_dbtp: fold_down(measured, &whole),
            lift_now_db: room::lift_now(&whole, &room),
            decorrelation_ms,
            your_meter: measured.yours.read(
                &measured.books,
                view,
                (measured.hops, readout.channels(BUS)),
                &windows.audible.bus,
                room.lift_db,
            ),
            room,
            late_copy: measured.spectra.late_copy(),
            damage: measured.books.read_damage(
                measured.frames,
                measured.rate_hz,
                readout.channels(BUS),
                view.rms_reference.offset_db(),
            ),
            hidden: measured.books.hidden.read(
                measured.books.audible.total().bus(),
                measured.frames as f64,
                readout.channels(BUS),
                view.rms_reference.offset_db(),
                measured.spectra.tones().raised_by(view.rms_reference.offset_db()),
            ),
            limiter: limiter(
                measured.books.whole.limiter.highest_db(),
                measured.books.audible.limiter.highest_db(),
            ),
            findings: verdict::Findings::default(),
            windows,
            whole,
            audible,
        };
        reading.findings = verdict::judge(&reading, measured.settings.edges);
        reading
    }
}

/// Share of the rate up to which the interpolated true peak is exact.
const EXACT_SHARE: f64 = 0.4535;
/// Share of the energy beyond that from which it is not: 20 dB down.
const MUCH: f64 = 0.01;

/// What takes or hides room.
fn causes(measured: &Measured, room: &Room) -> Causes {
    let (tones, edges) = (measured.spectra.tones(), measured.settings.edges);
    let beyond = measured.spectra.share_above(EXACT_SHARE * measured.rate_hz);
    let account = Account {
        peaks: measured.books.peaks(),
        above_lower_edge: Level::from_amplitude(f64::from(measured.books.high_passed())),
        since_s: measured.books.onsets.since_s(),
        merges: beyond.is_some_and(|share| share > MUCH),
        tones_hz: [true, false].map(|above| Some(tones.strongest(edges, above)?.hz)),
        edges,
        withheld_db: room.withheld_db,
    };
    account.causes()
}

/// True peak of (L + R)/√2, where left and right are the halves.
fn fold_down(measured: &Measured, whole: &BandReading) -> Level {
    match measured.settings.halves {
        Halves::LeftRight => whole.sum.true_peak_dbtp.plus(-EQUAL_POWER_SUM_DB),
        Halves::MainSidechain | Halves::Mono => Level::NONE,
    }
}

/// The row of history at the end of the latest hop.
pub(super) fn history_row(measured: &Measured) -> HistoryRow {
    let view = View::default();
    let readout = Readout { measured, view: &view };
    HistoryRow {
        time_s: measured.hops as f64 / HOPS_A_SECOND,
        whole: readout.history(&measured.books.whole),
        audible: readout.history(&measured.books.audible),
        your_meter_db: Level::NONE,
    }
}

struct Readout<'a> {
    measured: &'a Measured,
    view: &'a View,
}

impl Readout<'_> {
    fn signals<T: Default>(&self, read: impl Fn(usize) -> T) -> [T; 4] {
        [A, B, SUM, BUS].map(|signal| match signal {
            _ if self.measured.frames == 0 => T::default(),
            B | SUM if !self.measured.has_b() => T::default(),
            _ => read(signal),
        })
    }

    fn band(&self, book: &BandBook) -> BandReading {
        let frames = self.measured.frames as f64;
        let held = book.held();
        let [a, b, sum, bus] = self.signals(|signal| {
            let loudness = book.loudness();
            let sample_peak_dbfs = peak_level(held[signal]);
            let rms = self.rms(book.total(), signal, frames);
            Levels {
                sample_peak_dbfs,
                true_peak_dbtp: peak_level(book.true_peak(signal)),
                rms_dbfs: rms.plus(self.view.rms_reference.offset_db()),
                crest_db: sample_peak_dbfs.minus(rms),
                momentary_lufs: loudness.momentary(signal),
                short_term_lufs: loudness.short_term(signal),
                integrated_lufs: loudness.integrated(signal),
                lra_lu: loudness.range(signal),
                overs: Some(book.overs(signal)),
            }
        });
        let halves = self.halves(book.total(), frames, held);
        BandReading { a, b, sum, bus, halves }
    }

    fn history(&self, book: &BandBook) -> HistoryLevels {
        let (energies, frames) = book.latest(HOPS_A_ROW as usize);
        HistoryLevels {
            momentary_lufs: book.loudness().momentary(BUS),
            short_term_lufs: book.loudness().short_term(BUS),
            sample_peak_dbfs: peak_level(book.latest_peaks(HOPS_A_ROW as usize)[BUS]),
            // Known when the batch has been looked at that the row ends in.
            true_peak_dbtp: Level::NONE,
            rms_dbfs: self.rms(&energies, BUS, frames as f64),
        }
    }

    /// How many channels a signal has.
    fn channels(&self, signal: usize) -> f64 {
        let layout = &self.measured.layout;
        let channels = if signal == BUS { layout.channels() } else { layout.halves_pairs };
        channels as f64
    }

    /// RMS level referred to a full-scale square wave.
    fn rms(&self, energies: &BusEnergies, signal: usize, frames: f64) -> Level {
        let energy = match signal {
            A => energies.halves.aa,
            B => energies.halves.bb,
            SUM => energies.halves.sum,
            _ => energies.bus(),
        };
        Level::from_power(energy / (frames * self.channels(signal)))
    }

    fn halves(&self, energies: &BusEnergies, frames: f64, peaks: [f32; 4]) -> HalvesReading {
        if !self.measured.has_b() || frames == 0.0 {
            return HalvesReading::default();
        }
        let peaks = [peaks[A], peaks[B], peaks[SUM]];
        let offset_db = self.view.rms_reference.offset_db();
        halves::read(&energies.halves, frames * self.channels(A), peaks, offset_db)
    }

    fn windows(&self, invalid_frames: u64) -> Windows {
        let measured = self.measured;
        Windows {
            peak_window_s: self.view.peak_window_s,
            rms_window_s: self.view.rms_window.hops().map(|hops| hops as f64 / HOPS_A_SECOND),
            whole: self.band_windows(&measured.books.whole),
            audible: self.band_windows(&measured.books.audible),
            limiter: limiter(
                measured.books.whole.limiter.now_db(),
                measured.books.audible.limiter.now_db(),
            ),
            over_times_s: measured.books.over_times,
            invalid_frames,
            silent_s: silent_s(measured),
        }
    }

    fn band_windows(&self, book: &BandBook) -> BandWindows {
        let peak_hops = (self.view.peak_window_s * HOPS_A_SECOND).round() as usize;
        let peaks = book.latest_peaks(peak_hops);
        let (energies, frames) = match self.view.rms_window.hops() {
            Some(hops) => book.latest(hops),
            None => (*book.total(), self.measured.frames),
        };
        let frames = frames as f64;
        let [a, b, sum, bus] = self.signals(|signal| WindowLevels {
            sample_peak_dbfs: peak_level(peaks[signal]),
            rms_dbfs: self.rms(&energies, signal, frames).plus(self.view.rms_reference.offset_db()),
            momentary_max_lufs: book.loudness().momentary_max(signal),
            short_term_max_lufs: book.loudness().short_term_max(signal),
        });
        BandWindows { a, b, sum, bus, halves: self.halves(&energies, frames, peaks) }
    }
}

/// How long there has been no signal.
fn silent_s(measured: &Measured) -> Option<f64> {
    let frames = measured.books.whole.silent_frames();
    (frames > 0).then(|| frames as f64 / measured.rate_hz)
}

pub(super) fn peak_level(peak: f32) -> Level {
    Level::from_amplitude(f64::from(peak))
}

fn limiter(whole_db: Level, audible_db: Level) -> Limiter {
    Limiter { whole_db, audible_db, hidden_db: whole_db.minus(audible_db) }
}
