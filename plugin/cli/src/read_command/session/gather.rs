//! Gathers what the lines of a log say, one after the other.

use ledgerline_measure::history::HistoryLevels;
use ledgerline_measure::{HistoryRow, Level, Target, TargetKind, loudness_range, words};
use ledgerline_report::session::{HiddenTone, Highest, InstanceLog, Least, Stretch};
use ledgerline_report::utc::Utc;
use serde_json::Value;

use super::clock::{Clock, Placed};
use super::moment::{Band, Keys, Moment, as_level};
use super::overs::OverCounts;
use super::{entry, findings, number};

/// A row each second: rows that are further apart have lost one between them.
const ROWS_APART_S: f64 = 1.5;
/// Times are rounded.
const ROUNDING_S: f64 = 1e-3;
/// Readings of one tone lie within this part of its frequency.
const SAME_TONE: f64 = 0.01;

/// No level at all: a gap in the history.
const NOTHING: HistoryLevels = HistoryLevels {
    momentary_lufs: Level::NONE,
    short_term_lufs: Level::NONE,
    sample_peak_dbfs: Level::NONE,
    true_peak_dbtp: Level::NONE,
    rms_dbfs: Level::NONE,
};

/// What was gathered so far.
pub(super) struct Gather {
    keys: Keys,
    clock: Clock,
    overs: OverCounts,
    /// The latest row or full reading.
    latest: Option<Moment>,
    /// The latest row's seconds since reset, since when the rows hang together.
    row_s: Option<f64>,
    /// Seconds that were measured and have no row.
    missing_s: f64,
    log: InstanceLog,
}

impl Gather {
    /// Begins with the first line of a log.
    pub(super) fn new(first: &Value) -> Self {
        let begun = first["begun_utc"].as_str().and_then(Utc::parse);
        let nowhen = begun.unwrap_or(Utc { unix_s: 0.0 });
        Self {
            keys: Keys::of(first),
            clock: Clock::new(begun),
            overs: OverCounts::default(),
            latest: None,
            row_s: None,
            missing_s: 0.0,
            log: InstanceLog {
                path: String::new(),
                warnings: Vec::new(),
                from: nowhen,
                to: nowhen,
                host_s: None,
                measured_s: 0.0,
                pauses: 0,
                sample_rate_hz: None,
                ceiling_db: None,
                target: None,
                peak_window_s: None,
                rows: Vec::new(),
                whole: Highest::default(),
                audible: Highest::default(),
                room: Least::default(),
                audible_room: Least::default(),
                overs: Vec::new(),
                overs_before: 0,
                hidden: Default::default(),
                stretches: Vec::new(),
                entries: Vec::new(),
                findings: Vec::new(),
            },
        }
    }

    /// Takes a row; false where it says nothing.
    pub(super) fn row(&mut self, line: &Value) -> bool {
        let Some(moment) = Moment::of_row(line, &self.keys) else { return false };
        let utc = line["utc"].as_str().and_then(Utc::parse);
        let host_s = number(&line["host_s"]);
        let earlier_row_s = self.row_s;
        let Some(placed) = self.moment(moment, utc, host_s) else { return false };
        let step_s = moment.time_s - earlier_row_s.unwrap_or(moment.time_s);
        let has_lost = step_s > ROWS_APART_S;
        if has_lost {
            self.missing_s += step_s - 1.0;
        }
        if let Some(time_s) = self.log.rows.last().map(|last| last.time_s)
            && (has_lost || placed.after_pause)
        {
            self.log.pauses += u64::from(placed.after_pause);
            self.log.rows.push(HistoryRow {
                time_s,
                whole: NOTHING,
                audible: NOTHING,
                your_meter_db: Level::NONE,
            });
        }
        self.row_s = Some(moment.time_s);
        self.log.rows.push(HistoryRow {
            time_s: placed.at.unix_s,
            whole: moment.whole.history(),
            audible: moment.audible.history(),
            your_meter_db: Level::NONE,
        });
        if let Some(host_s) = host_s {
            let first = self.log.host_s.map_or(host_s, |(first, _)| first);
            self.log.host_s = Some((first, host_s));
        }
        true
    }

    /// Takes a full reading; false where it says nothing.
    pub(super) fn reading(&mut self, line: &Value) -> bool {
        let Some(moment) = Moment::of_reading(line) else { return false };
        let Some(Placed { at, .. }) = self.moment(moment, None, None) else { return false };
        let log = &mut self.log;
        log.sample_rate_hz = number(&line["sample_rate_hz"]).or(log.sample_rate_hz);
        log.ceiling_db = number(&line["room"]["ceiling_db"]).or(log.ceiling_db);
        if let Some(aimed) = line["room"].get("target") {
            log.target = target(aimed);
        }
        log.peak_window_s = number(&line["windows"]["peak_window_s"]).or(log.peak_window_s);
        highest_loudness(&mut log.whole, &line["windows"]["whole"]["bus"]);
        highest_loudness(&mut log.audible, &line["windows"]["audible"]["bus"]);
        for tone in line["hidden"]["tones"].as_array().into_iter().flatten() {
            if let (Some(hz), dbfs) = (number(&tone["hz"]), as_level(&tone["dbfs"]))
                && hz > 0.0
            {
                keep_tone(&mut log.hidden.tones, HiddenTone { hz, dbfs, at });
            }
        }
        findings::take(&mut log.findings, line, at);
        true
    }

    /// Takes an entry; false where it lacks what makes it one.
    pub(super) fn entry(&mut self, line: &Value) -> bool {
        let entry = entry::of(line);
        let is_taken = entry.is_some();
        self.log.entries.extend(entry);
        is_taken
    }

    /// Takes the line that says that the latest reset was undone; false where it says no time. What
    /// follows is read since the reset before that.
    pub(super) fn undo(&mut self, line: &Value) -> bool {
        let Some(time_s) = number(&line["time_s"]) else { return false };
        let Some(latest) = &mut self.latest else { return true };
        (latest.time_s, self.row_s) = (time_s, Some(time_s));
        // What was measured since the last row before the reset, and since the last behind it.
        let untold_s = match self.log.stretches[..] {
            [.., before, since] => Some(time_s - before.time_s - since.time_s),
            _ => None,
        };
        let untold_s = untold_s.filter(|untold_s| *untold_s >= -ROUNDING_S);
        if let Some(untold_s) = untold_s {
            self.log.stretches.pop();
            self.log.measured_s += untold_s;
        }
        self.overs.undo_reset(untold_s.is_some());
        true
    }

    /// Takes what rows and full readings have in common. None where nothing tells when it was.
    fn moment(&mut self, moment: Moment, utc: Option<Utc>, host_s: Option<f64>) -> Option<Placed> {
        let is_first = self.latest.is_none();
        let is_reset = self.latest.is_some_and(|latest| moment.is_reset_after(&latest));
        let step_s = match &self.latest {
            Some(latest) if !is_reset => moment.time_s - latest.time_s,
            Some(_) => moment.time_s,
            // What was measured before the log began is none of its seconds.
            None => moment.time_s.min(1.0),
        };
        let placed = self.clock.place(step_s, utc)?;
        let (at, from) = (placed.at, placed.at.plus(-step_s));
        if is_reset {
            self.overs.reset();
            self.row_s = None;
        }
        if let Some(count) = moment.overs {
            self.overs.take(count, at, host_s, moment.time_s > ROWS_APART_S);
        }
        let log = &mut self.log;
        if is_first {
            log.from = from;
        }
        log.to = at;
        log.measured_s += step_s;
        if is_first || is_reset {
            log.stretches.push(stretch(&moment, from, at));
        } else if let Some(last) = log.stretches.last_mut() {
            let was = *last;
            *last = stretch(&moment, was.from, at);
            // A line may lack what the one before had.
            for (level, was) in [
                (&mut last.whole_lufs, was.whole_lufs),
                (&mut last.audible_lufs, was.audible_lufs),
                (&mut last.above_dbfs, was.above_dbfs),
                (&mut last.below_dbfs, was.below_dbfs),
            ] {
                *level = if level.exists() { *level } else { was };
            }
        }
        highest_peaks(&mut log.whole, &moment.whole);
        highest_peaks(&mut log.audible, &moment.audible);
        keep_least(&mut log.room, moment.room_db, at);
        keep_least(&mut log.audible_room, moment.true_room_db, at);
        self.latest = Some(moment);
        Some(placed)
    }

    /// All of it; none where no second was told of.
    pub(super) fn finish(self, path: String) -> Option<InstanceLog> {
        let Self { latest, overs, clock, missing_s, mut log, .. } = self;
        latest?;
        log.path = path;
        if clock.went_back {
            log.warnings.push(
                "The system's clock went back while it was written: until it caught up, seconds \
                 were counted instead."
                    .to_owned(),
            );
        }
        if missing_s > 0.0 {
            log.warnings
                .push(format!("{} of what was measured have no rows.", words::duration(missing_s)));
        }
        let clock_s = log.to.since(log.from);
        if log.measured_s > clock_s + MUCH_FASTER_S {
            log.warnings.push(format!(
                "{} were measured in {} on the clock: faster than it plays, as when a host renders.",
                words::duration(log.measured_s),
                words::duration(clock_s)
            ));
        }
        log.overs_before = overs.before;
        log.overs = overs.found;
        log.hidden.above_dbfs = mean(&log.stretches, |stretch| stretch.above_dbfs);
        log.hidden.below_dbfs = mean(&log.stretches, |stretch| stretch.below_dbfs);
        log.hidden.tones.sort_by(|one, other| {
            let [one, other] = [one, other].map(|tone| tone.dbfs.db().unwrap_or(f64::MIN));
            other.total_cmp(&one)
        });
        log.whole.lra_lu = loudness_range(log.rows.iter().map(|row| row.whole.short_term_lufs));
        log.audible.lra_lu = loudness_range(log.rows.iter().map(|row| row.audible.short_term_lufs));
        log.findings.sort_by_key(|finding| std::cmp::Reverse(finding.severity));
        Some(log)
    }
}

/// What was measured may be ahead of the clock by so much, in seconds.
const MUCH_FASTER_S: f64 = 3.0;

fn stretch(moment: &Moment, from: Utc, to: Utc) -> Stretch {
    Stretch {
        from,
        to,
        time_s: moment.time_s,
        whole_lufs: moment.whole.integrated_lufs,
        audible_lufs: moment.audible.integrated_lufs,
        above_dbfs: moment.above_dbfs,
        below_dbfs: moment.below_dbfs,
    }
}

fn highest_peaks(highest: &mut Highest, band: &Band) {
    let keep = |highest: &mut Level, level: Level| *highest = highest.max(level);
    let levels = band.history();
    keep(&mut highest.sample_peak_dbfs, band.sample_peak_dbfs);
    keep(&mut highest.true_peak_dbtp, band.true_peak_dbtp);
    keep(&mut highest.momentary_max_lufs, levels.momentary_lufs);
    keep(&mut highest.short_term_max_lufs, levels.short_term_lufs);
}

/// Between two rows it may have been louder, and a full reading knows.
fn highest_loudness(highest: &mut Highest, bus: &Value) {
    let keep = |highest: &mut Level, key: &str| *highest = highest.max(as_level(&bus[key]));
    keep(&mut highest.momentary_max_lufs, "momentary_max_lufs");
    keep(&mut highest.short_term_max_lufs, "short_term_max_lufs");
}

fn keep_least(least: &mut Least, db: Level, at: Utc) {
    let (Some(now), then) = (db.finite(), least.db.finite()) else { return };
    if then.is_none_or(|then| now < then) {
        *least = Least { db, at: Some(at) };
    }
}

/// The same tone again is kept where it is strongest.
fn keep_tone(tones: &mut Vec<HiddenTone>, tone: HiddenTone) {
    let is_same = |known: &&mut HiddenTone| (known.hz - tone.hz).abs() <= SAME_TONE * tone.hz;
    match tones.iter_mut().find(is_same) {
        Some(known) if known.dbfs.max(tone.dbfs) != known.dbfs => *known = tone,
        Some(_) => {}
        None => tones.push(tone),
    }
}

/// Level of the mean power over all stretches, each as long as it covers.
fn mean(stretches: &[Stretch], level: fn(&Stretch) -> Level) -> Level {
    let (mut power, mut time_s) = (0.0, 0.0);
    for stretch in stretches {
        if let Some(of_stretch) = level(stretch).power() {
            power += of_stretch * stretch.time_s;
            time_s += stretch.time_s;
        }
    }
    if time_s > 0.0 { Level::from_power(power / time_s) } else { Level::NONE }
}

fn target(of: &Value) -> Option<Target> {
    let kind = match of["kind"].as_str()? {
        "loudness" => TargetKind::Loudness,
        "rms" => TargetKind::Rms,
        "peak" => TargetKind::Peak,
        _ => return None,
    };
    Some(Target { kind, value: number(&of["value"])? })
}
