//! An entry of the log.

use ledgerline_measure::Level;
use ledgerline_report::session::{Change, Entry};
use ledgerline_report::utc::Utc;
use serde_json::Value;

use super::moment::as_level;
use super::{number, text};

/// An entry from its line; none where it lacks its number or when it was.
pub(super) fn of(line: &Value) -> Option<Entry> {
    let moment = |key: &str| Utc::parse(line[key].as_str()?);
    let level = |place: &str| line.pointer(place).map_or(Level::NONE, as_level);
    let (from, to) = (moment("utc_start")?, moment("utc_end")?);
    Some(Entry {
        number: line["entry"].as_u64()?,
        opened_by: text(&line["opened_by"]),
        from,
        to: if to < from { from } else { to },
        host_s: ["host_start_s", "host_end_s"].map(|key| number(&line[key])),
        steady: line["steady"].as_bool().unwrap_or(false),
        incomplete: line["incomplete"].as_bool().unwrap_or(false),
        whole_dbtp: level("/levels/whole/bus/true_peak"),
        audible_dbtp: level("/levels/audible/bus/true_peak"),
        whole_dbfs: level("/levels/whole/bus/rms"),
        audible_dbfs: level("/levels/audible/bus/rms"),
        change: change(&line["change"]),
    })
}

fn change(of: &Value) -> Option<Change> {
    let texts = |key: &str| of[key].as_array().into_iter().flatten().map(text).collect();
    of.is_object().then(|| Change {
        what: text(&of["what"]),
        or: texts("or"),
        shown_by: texts("shown_by"),
        not_shown_by: texts("not_shown_by"),
        copy: number(&of["copy"]["delay_ms"]).map(|ms| (ms, as_level(&of["copy"]["level_db"]))),
        sentence: text(&of["sentence"]),
    })
}
