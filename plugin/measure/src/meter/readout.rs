//! Turns what a meter has kept into a reading.

use super::{HOPS_A_ROW, HOPS_A_SECOND, Meter};
use crate::book::{BandBook, BusEnergies};
use crate::causes::{Account, Causes};
use crate::halves;
use crate::history::{HistoryLevels, HistoryRow};
use crate::level::{EQUAL_POWER_SUM_DB, Level};
use crate::reading::{
    BandReading, BandWindows, Damage, HalvesReading, Levels, Limiter, MOST_OVER_TIMES, OverTimes,
    READING_SCHEMA, Reading, Room, WindowLevels, Windows,
};
use crate::room;
use crate::settings::{Halves, View};
use crate::signal::{A, B, BUS, SUM};
use crate::verdict;

pub(super) fn read(meter: &Meter, view: &View) -> Reading {
    let readout = Readout { meter, view };
    let whole = readout.band(&meter.books.whole);
    let audible = readout.band(&meter.books.audible);
    let room = room::read(&whole, &audible, view);
    let mut reading = Reading {
        schema: READING_SCHEMA,
        time_s: meter.frames as f64 / meter.rate_hz,
        sample_rate_hz: meter.rate_hz,
        halves: meter.settings.halves,
        causes: causes(meter, &room),
        fold_down_dbtp: fold_down(meter, &whole),
        lift_now_db: room::lift_now(&whole, &room),
        decorrelation_ms: meter
            .detail()
            .map(|detail| detail.decorrelation(meter.settings.edges))
            .unwrap_or_default(),
        room,
        late_copy: meter.spectra.late_copy(),
        damage: damage(meter),
        hidden: meter.books.hidden.read(
            meter.books.audible.total().bus(),
            meter.frames as f64,
            readout.channels(BUS),
            view.rms_reference.offset_db(),
            meter.spectra.tones().raised_by(view.rms_reference.offset_db()),
        ),
        limiter: limiter(
            meter.books.whole.limiter.highest_db(),
            meter.books.audible.limiter.highest_db(),
        ),
        findings: verdict::Findings::default(),
        windows: readout.windows(),
        whole,
        audible,
    };
    reading.findings = verdict::judge(&reading, meter.settings.edges);
    reading
}

/// Share of the rate up to which the interpolated true peak is exact.
const EXACT_SHARE: f64 = 0.4535;
/// Share of the energy beyond that from which it is not: 20 dB down.
const MUCH: f64 = 0.01;

/// What takes or hides room.
fn causes(meter: &Meter, room: &Room) -> Causes {
    let (tones, edges) = (meter.spectra.tones(), meter.settings.edges);
    let beyond = meter.spectra.share_above(EXACT_SHARE * meter.rate_hz);
    let account = Account {
        peaks: meter.books.peaks(),
        above_lower_edge: Level::from_amplitude(f64::from(meter.books.high_passed())),
        since_s: meter.books.onsets.since_s(),
        merges: beyond.is_some_and(|share| share > MUCH),
        tones_hz: [true, false].map(|above| Some(tones.strongest(edges, above)?.hz)),
        edges,
        withheld_db: room.withheld_db,
    };
    account.causes()
}

/// True peak of (L + R)/√2, where left and right are the halves.
fn fold_down(meter: &Meter, whole: &BandReading) -> Level {
    match meter.settings.halves {
        Halves::LeftRight => whole.sum.true_peak_dbtp.plus(-EQUAL_POWER_SUM_DB),
        Halves::MainSidechain | Halves::Mono => Level::NONE,
    }
}

/// What clipping upstream left in the samples.
fn damage(meter: &Meter) -> Damage {
    let mut frames = [0; MOST_OVER_TIMES];
    let mut count = 0;
    let mut end = u64::MAX;
    while let Some(frame) = meter.books.whole.flat_top_before(end).filter(|_| count < frames.len())
    {
        frames[count] = frame;
        count += 1;
        end = frame;
    }
    let mut flat_top_times_s = OverTimes::default();
    frames[..count]
        .iter()
        .rev()
        .for_each(|&frame| flat_top_times_s.push(frame as f64 / meter.rate_hz));
    Damage { flat_tops: meter.books.whole.flat_tops(), flat_top_times_s }
}

/// The row of history at the end of the latest hop.
pub(super) fn history_row(meter: &Meter) -> HistoryRow {
    let view = View::default();
    let readout = Readout { meter, view: &view };
    HistoryRow {
        time_s: meter.hops as f64 / HOPS_A_SECOND,
        whole: readout.history(&meter.books.whole),
        audible: readout.history(&meter.books.audible),
    }
}

struct Readout<'a> {
    meter: &'a Meter,
    view: &'a View,
}

impl Readout<'_> {
    fn signals<T: Default>(&self, read: impl Fn(usize) -> T) -> [T; 4] {
        [A, B, SUM, BUS].map(|signal| match signal {
            _ if self.meter.frames == 0 => T::default(),
            B | SUM if !self.meter.has_b() => T::default(),
            _ => read(signal),
        })
    }

    fn band(&self, book: &BandBook) -> BandReading {
        let frames = self.meter.frames as f64;
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
        let layout = &self.meter.layout;
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
        if !self.meter.has_b() || frames == 0.0 {
            return HalvesReading::default();
        }
        let peaks = [peaks[A], peaks[B], peaks[SUM]];
        let offset_db = self.view.rms_reference.offset_db();
        halves::read(&energies.halves, frames * self.channels(A), peaks, offset_db)
    }

    fn windows(&self) -> Windows {
        let meter = self.meter;
        Windows {
            peak_window_s: self.view.peak_window_s,
            rms_window_s: self.view.rms_window.hops().map(|hops| hops as f64 / HOPS_A_SECOND),
            whole: self.band_windows(&meter.books.whole),
            audible: self.band_windows(&meter.books.audible),
            limiter: limiter(
                meter.books.whole.limiter.now_db(),
                meter.books.audible.limiter.now_db(),
            ),
            over_times_s: meter.over_times,
            invalid_frames: meter.filters.inlet.invalid_frames(),
            silent_s: silent_s(meter),
        }
    }

    fn band_windows(&self, book: &BandBook) -> BandWindows {
        let peak_hops = (self.view.peak_window_s * HOPS_A_SECOND).round() as usize;
        let peaks = book.latest_peaks(peak_hops);
        let (energies, frames) = match self.view.rms_window.hops() {
            Some(hops) => book.latest(hops),
            None => (*book.total(), self.meter.frames),
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
fn silent_s(meter: &Meter) -> Option<f64> {
    let frames = meter.books.whole.silent_frames();
    (frames > 0).then(|| frames as f64 / meter.rate_hz)
}

pub(super) fn peak_level(peak: f32) -> Level {
    Level::from_amplitude(f64::from(peak))
}

fn limiter(whole_db: Level, audible_db: Level) -> Limiter {
    Limiter { whole_db, audible_db, hidden_db: whole_db.minus(audible_db) }
}
