//! The record of a log that was read: one line of JSON.

use ledgerline_measure::verdict::Severity;
use ledgerline_measure::{Level, Target};
use ledgerline_report::session::{Entry, Highest, InstanceLog, Least, Stretch};
use ledgerline_report::utc::Utc;
use serde::Serialize;
use serde_json::{Value, json};

/// Name and version of the record's shape.
const SESSION_SCHEMA: &str = "ledgerline.session/1";

/// A log, summed up.
#[derive(Debug, Serialize)]
pub(crate) struct SessionRecord<'a> {
    schema: &'static str,
    version: &'static str,
    file: FileRecord<'a>,
    warnings: &'a [String],
    utc_start: String,
    utc_end: String,
    host_start_s: Option<f64>,
    host_end_s: Option<f64>,
    measured_s: f64,
    pauses: u64,
    sample_rate_hz: Option<f64>,
    whole: BandRecord,
    audible: BandRecord,
    room: RoomRecord,
    overs: u64,
    overs_before: u64,
    over_times: Vec<Value>,
    hidden: HiddenRecord,
    stretches: Vec<Value>,
    entries: Vec<Value>,
    findings: Vec<FindingRecord<'a>>,
}

#[derive(Debug, Serialize)]
struct FileRecord<'a> {
    path: &'a str,
}

#[derive(Debug, Serialize)]
struct BandRecord {
    sample_peak_dbfs: Level,
    true_peak_dbtp: Level,
    momentary_max_lufs: Level,
    short_term_max_lufs: Level,
    lra_lu: Level,
}

#[derive(Debug, Serialize)]
struct RoomRecord {
    ceiling_db: Option<f64>,
    target: Option<Target>,
    room_db: Level,
    room_utc: Option<String>,
    true_room_db: Level,
    true_room_utc: Option<String>,
}

#[derive(Debug, Serialize)]
struct HiddenRecord {
    above_dbfs: Level,
    below_dbfs: Level,
    tones: Vec<Value>,
}

#[derive(Debug, Serialize)]
struct FindingRecord<'a> {
    code: &'a str,
    severity: Severity,
    sentence: &'a str,
    utc: String,
}

impl<'a> SessionRecord<'a> {
    pub(crate) fn new(log: &'a InstanceLog) -> Self {
        let least = |least: Least| least.at.map(Utc::record);
        Self {
            schema: SESSION_SCHEMA,
            version: env!("CARGO_PKG_VERSION"),
            file: FileRecord { path: &log.path },
            warnings: &log.warnings,
            utc_start: log.from.record(),
            utc_end: log.to.record(),
            host_start_s: log.host_s.map(|(first, _)| first),
            host_end_s: log.host_s.map(|(_, last)| last),
            measured_s: log.measured_s,
            pauses: log.pauses,
            sample_rate_hz: log.sample_rate_hz,
            whole: BandRecord::new(log.whole),
            audible: BandRecord::new(log.audible),
            room: RoomRecord {
                ceiling_db: log.ceiling_db,
                target: log.target,
                room_db: log.room.db,
                room_utc: least(log.room),
                true_room_db: log.audible_room.db,
                true_room_utc: least(log.audible_room),
            },
            overs: log.over_count(),
            overs_before: log.overs_before,
            over_times: log
                .overs
                .iter()
                .map(|overs| {
                    json!({
                        "utc": overs.at.record(), "host_s": overs.host_s, "overs": overs.count
                    })
                })
                .collect(),
            hidden: HiddenRecord {
                above_dbfs: log.hidden.above_dbfs,
                below_dbfs: log.hidden.below_dbfs,
                tones: log
                    .hidden
                    .tones
                    .iter()
                    .map(
                        |tone| json!({ "hz": tone.hz, "dbfs": tone.dbfs, "utc": tone.at.record() }),
                    )
                    .collect(),
            },
            stretches: log.stretches.iter().map(stretch).collect(),
            entries: log.entries.iter().map(entry).collect(),
            findings: log
                .findings
                .iter()
                .map(|finding| FindingRecord {
                    code: &finding.code,
                    severity: finding.severity,
                    sentence: &finding.sentence,
                    utc: finding.at.record(),
                })
                .collect(),
        }
    }
}

impl BandRecord {
    fn new(highest: Highest) -> Self {
        Self {
            sample_peak_dbfs: highest.sample_peak_dbfs,
            true_peak_dbtp: highest.true_peak_dbtp,
            momentary_max_lufs: highest.momentary_max_lufs,
            short_term_max_lufs: highest.short_term_max_lufs,
            lra_lu: highest.lra_lu,
        }
    }
}

fn stretch(of: &Stretch) -> Value {
    json!({
        "utc_start": of.from.record(), "utc_end": of.to.record(), "time_s": of.time_s,
        "whole": { "integrated_lufs": of.whole_lufs },
        "audible": { "integrated_lufs": of.audible_lufs },
        "hidden": { "above_dbfs": of.above_dbfs, "below_dbfs": of.below_dbfs },
    })
}

/// The keys of the log's own entry, without its reading.
fn entry(of: &Entry) -> Value {
    let levels =
        |rms: Level, true_peak: Level| json!({ "bus": { "rms": rms, "true_peak": true_peak } });
    let change = of.change.as_ref().map(|change| {
        let copy = change.copy.map(|(ms, level)| json!({ "delay_ms": ms, "level_db": level }));
        json!({
            "what": change.what, "or": change.or, "copy": copy, "shown_by": change.shown_by,
            "not_shown_by": change.not_shown_by, "sentence": change.sentence,
        })
    });
    json!({
        "entry": of.number, "opened_by": of.opened_by, "steady": of.steady,
        "incomplete": of.incomplete, "utc_start": of.from.record(), "utc_end": of.to.record(),
        "host_start_s": of.host_s[0], "host_end_s": of.host_s[1],
        "levels": {
            "whole": levels(of.whole_dbfs, of.whole_dbtp),
            "audible": levels(of.audible_dbfs, of.audible_dbtp),
        },
        "change": change,
    })
}
