//! The page of a session: every instance on one axis of time, and which of them brings what.

use ledgerline_measure::history::HistoryLevels;
use ledgerline_measure::verdict::Severity;
use ledgerline_measure::{HistoryRow, Level, Target};
use ledgerline_report::session::{
    self, Change, Entry, HiddenContent, HiddenTone, Highest, InstanceLog, Least, LoggedFinding,
    Overs, Stretch,
};
use ledgerline_report::utc::Utc;
use scraper::{ElementRef, Html};

use super::fixtures::MADE;
use super::structure::all;

/// Two instances of one evening: one begins five minutes later, stops for two minutes and holds a
/// tone.
pub fn evening() -> Vec<InstanceLog> {
    let start = Utc::parse("2026-11-14T19:59:00Z").expect("a moment");
    let mut drums = log("/logs/drums.jsonl", start, 1800);
    let mut strings = log("/logs/strings.jsonl", start.plus(300.0), 1500);
    strings.hidden = HiddenContent {
        above_dbfs: Level::from_db(-34.0),
        below_dbfs: Level::SILENCE,
        tones: vec![HiddenTone {
            hz: 31_000.0,
            dbfs: Level::from_db(-34.2),
            at: start.plus(900.0),
        }],
    };
    strings.pauses = 1;
    let nothing = level_row(0.0, Level::NONE);
    for row in &mut strings.rows[600..720] {
        *row = HistoryRow { time_s: row.time_s, ..nothing };
    }
    strings.entries = vec![
        entry(1, "start", start.plus(300.0), None),
        entry(2, "step", start.plus(500.0), Some("The sum fell by 3.0 dB: one source comes late.")),
        entry(3, "mark", start.plus(1_600.0), Some("Nothing moved by more than 0.1 dB.")),
    ];
    strings.overs = vec![
        Overs { at: start.plus(700.0), host_s: Some(61.0), count: 2 },
        Overs { at: start.plus(1_700.0), host_s: None, count: 1 },
    ];
    strings.findings = vec![LoggedFinding {
        code: "overs".into(),
        severity: Severity::Fault,
        sentence: "The bus reaches full scale 3 times.".into(),
        at: start.plus(1_800.0),
    }];
    drums.warnings = vec!["The last line is not whole and was passed over.".into()];
    vec![drums, strings]
}

fn level_row(time_s: f64, level: Level) -> HistoryRow {
    let levels = |down: f64| HistoryLevels {
        momentary_lufs: level.plus(-down),
        short_term_lufs: level.plus(-down - 1.0),
        sample_peak_dbfs: level.plus(14.0 - down),
        true_peak_dbtp: Level::NONE,
        rms_dbfs: level.plus(-down),
    };
    HistoryRow { time_s, whole: levels(0.0), audible: levels(3.0), your_meter_db: Level::NONE }
}

fn log(path: &str, from: Utc, seconds: u32) -> InstanceLog {
    let highest = |down: f64| Highest {
        sample_peak_dbfs: Level::from_db(-4.0 - down),
        true_peak_dbtp: Level::from_db(-3.5 - down),
        momentary_max_lufs: Level::from_db(-18.0 - down),
        short_term_max_lufs: Level::from_db(-19.0 - down),
        lra_lu: Level::from_db(6.0),
    };
    let to = from.plus(f64::from(seconds));
    let hidden = HiddenContent {
        above_dbfs: Level::from_db(-71.0),
        below_dbfs: Level::from_db(-50.0),
        tones: vec![],
    };
    InstanceLog {
        path: path.into(),
        warnings: vec![],
        from,
        to,
        host_s: Some((0.0, 1_790.0)),
        measured_s: f64::from(seconds),
        pauses: 0,
        sample_rate_hz: Some(96_000.0),
        ceiling_db: Some(-1.0),
        target: Some(Target::default()),
        peak_window_s: Some(3.0),
        rows: (1..=seconds)
            .map(|second| {
                let level = -24.0 + 6.0 * (f64::from(second) / 90.0).sin();
                level_row(from.unix_s + f64::from(second), Level::from_db(level))
            })
            .collect(),
        whole: highest(0.0),
        audible: highest(3.0),
        room: Least { db: Level::from_db(3.0), at: Some(from.plus(141.0)) },
        audible_room: Least { db: Level::from_db(5.5), at: Some(from.plus(141.0)) },
        overs: vec![],
        overs_before: 0,
        stretches: vec![Stretch {
            from,
            to,
            time_s: f64::from(seconds),
            whole_lufs: Level::from_db(-21.0),
            audible_lufs: Level::from_db(-24.0),
            above_dbfs: hidden.above_dbfs,
            below_dbfs: hidden.below_dbfs,
        }],
        hidden,
        entries: vec![],
        findings: vec![],
    }
}

fn entry(number: u64, opened_by: &str, from: Utc, sentence: Option<&str>) -> Entry {
    Entry {
        number,
        opened_by: opened_by.into(),
        from,
        to: from.plus(100.0),
        host_s: [Some(200.0), None],
        steady: true,
        incomplete: false,
        whole_dbtp: Level::from_db(-3.5),
        audible_dbtp: Level::from_db(-6.5),
        whole_dbfs: Level::from_db(-20.0),
        audible_dbfs: Level::from_db(-23.0),
        change: sentence.map(|sentence| Change {
            what: "copy".into(),
            or: vec![],
            shown_by: vec![],
            not_shown_by: vec![],
            copy: None,
            sentence: sentence.into(),
        }),
    }
}

fn text(element: ElementRef) -> String {
    element.text().collect::<String>().trim().replace('\u{a0}', " ")
}

fn texts(page: &Html, selector: &str) -> Vec<String> {
    all(page, selector).into_iter().map(text).collect()
}

#[test]
fn all_instances_share_one_clock() {
    let page = Html::parse_document(&session::page(&evening(), &MADE));
    let labels = |id: &str| -> Vec<String> {
        let texts = texts(&page, &format!("svg[aria-labelledby={id}-t] text"));
        texts.into_iter().filter(|text| text.contains(':')).collect()
    };
    let axis = ["20:00", "20:05", "20:10", "20:15", "20:20", "20:25"];
    for id in ["log-1-history", "log-2-history"] {
        assert_eq!(labels(id), axis, "{id}");
    }
    // A pause is a gap: the curve of the one that stopped comes in two pieces.
    let pieces = |id: &str| {
        all(&page, &format!("svg[aria-labelledby={id}-history-t] polyline.s-whole")).len()
    };
    assert_eq!([pieces("log-1"), pieces("log-2")], [2, 4], "of peaks and of loudness");
}

#[test]
fn entries_stand_in_the_charts_by_number_and_in_the_table_with_their_sentences() {
    let page = Html::parse_document(&session::page(&evening(), &MADE));
    let names = texts(&page, "svg[aria-labelledby=log-2-history-t] text.f-text");
    assert_eq!(names, ["1", "2", "3"]);
    let overs = all(&page, "svg[aria-labelledby=log-2-history-t] polyline.s-off-mark");
    assert_eq!(overs.len(), 2);
    let sentences = texts(&page, "#log-2 td.sentence");
    let expected =
        ["The sum fell by 3.0 dB: one source comes late.", "Nothing moved by more than 0.1 dB."];
    assert_eq!(sentences, expected);
    let entries = texts(&page, "#log-2 th[scope=rowgroup]");
    assert_eq!(entries, ["1", "2", "3"]);
}

#[test]
fn several_instances_are_compared_by_their_hidden_content() {
    let page = Html::parse_document(&session::page(&evening(), &MADE));
    let links = texts(&page, "section tbody th a");
    assert_eq!(links, ["drums.jsonl", "strings.jsonl"]);
    let hidden = texts(&page, "section td.is-hidden");
    assert_eq!(hidden, ["−71.00", "−50.00", "−34.00", "−∞"]);
    let said = texts(&page, "section.sheet > p");
    let expected = [
        "strings.jsonl holds the most above the audible band: −34.0 dBFS; next comes drums.jsonl \
         with −71.0 dBFS.",
        "Only drums.jsonl holds something below the audible band: −50.0 dBFS.",
    ];
    assert_eq!(said, expected);
}

#[test]
fn what_a_log_says_stays_text() {
    let mut logs = evening();
    logs[1].path = "</title><script>alert(1)</script>.jsonl".into();
    logs[1].entries[1].opened_by = "<b>x".into();
    if let Some(change) = &mut logs[1].entries[1].change {
        change.sentence = "<img src=x>\u{202e}\u{0}".into();
    }
    let html = session::page(&logs, &MADE);
    assert!(!html.contains("<script") && !html.contains("<img") && !html.contains("<b>x"));
    assert!(!html.contains('\u{202e}') && !html.contains('\0'));
    assert!(Html::parse_document(&html).errors.is_empty());
}
