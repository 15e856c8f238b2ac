//! The page of a reading: its numbers are the reading's, whatever the file is called.

use ledgerline_measure::Level;
use ledgerline_measure::reading::{Levels, WindowLevels};
use ledgerline_report::read::{self, by_need};
use scraper::{ElementRef, Html, Selector};

use super::fixtures::{ferry, mono, silence};
use super::structure::all;

fn text(element: ElementRef) -> String {
    element.text().collect::<String>().trim().to_owned()
}

/// A number as a page writes it: a true minus sign, thousands apart, signs for silence and absence.
fn number(text: &str) -> Option<f64> {
    match text {
        "–" => None,
        "−∞" => Some(f64::NEG_INFINITY),
        text => {
            let plain = text.replace('−', "-").replace('\u{202f}', "");
            Some(plain.parse().unwrap_or_else(|_| panic!("{text:?} is no number")))
        }
    }
}

fn row(levels: &Levels, windows: &WindowLevels) -> [Option<f64>; 9] {
    let db = |level: Level| level.db();
    [
        db(levels.sample_peak_dbfs),
        db(levels.true_peak_dbtp),
        levels.overs.map(|overs| overs as f64),
        db(levels.rms_dbfs),
        db(levels.crest_db),
        db(windows.momentary_max_lufs),
        db(windows.short_term_max_lufs),
        db(levels.integrated_lufs),
        db(levels.lra_lu),
    ]
}

#[test]
fn the_ledger_holds_the_numbers_of_the_reading() {
    for measured in [ferry(), silence()] {
        let page = Html::parse_document(&read::page(&[measured.as_file("bus.wav", &[])]));
        let (whole, audible) = (&measured.reading.whole, &measured.reading.audible);
        let windows = &measured.reading.windows;
        let (now, heard) = (&windows.whole, &windows.audible);
        let expected = [
            (row(&whole.a, &now.a), row(&audible.a, &heard.a)),
            (row(&whole.b, &now.b), row(&audible.b, &heard.b)),
            (row(&whole.sum, &now.sum), row(&audible.sum, &heard.sum)),
            (row(&whole.bus, &now.bus), row(&audible.bus, &heard.bus)),
        ];
        let signals = all(&page, ".ledger tbody");
        assert_eq!(signals.len(), expected.len());
        for (signal, (whole, audible)) in signals.into_iter().zip(expected) {
            let rows = Selector::parse("tr").expect("a selector");
            let shown: Vec<Vec<Option<f64>>> = signal
                .select(&rows)
                .map(|row| {
                    let cells = Selector::parse("td").expect("a selector");
                    row.select(&cells).map(|cell| number(&text(cell))).collect()
                })
                .collect();
            let [shown_whole, shown_audible, shown_difference] = &shown[..] else {
                panic!("{} rows", shown.len())
            };
            for column in 0..9 {
                same(shown_whole[column], whole[column]);
                same(shown_audible[column], audible[column]);
                let difference = whole[column].zip(audible[column]).map(|(w, a)| w - a);
                same(shown_difference[column], difference.filter(|db| db.is_finite()));
            }
        }
    }
}

/// Half of the last decimal.
fn same(shown: Option<f64>, expected: Option<f64>) {
    match (shown, expected) {
        (Some(shown), Some(expected)) if expected.is_finite() => {
            assert!((shown - expected).abs() <= 0.005 + 1e-9, "{shown} for {expected}");
        }
        (shown, expected) => assert_eq!(shown, expected),
    }
}

#[test]
fn the_most_important_sentence_comes_first_and_all_others_follow() {
    let measured = ferry();
    let page = Html::parse_document(&read::page(&[measured.as_file("bus.wav", &[])]));
    let plain = |text: String| text.replace('\u{a0}', " ");
    let said: Vec<String> =
        all(&page, ".said p, .findings p").into_iter().map(|p| plain(text(p))).collect();
    let findings: Vec<String> =
        measured.reading.findings.as_slice().iter().map(|f| f.sentence()).collect();
    assert!(findings.len() > 1);
    assert_eq!(said, findings);
    let words = text(all(&page, ".said .sign")[0]);
    assert_eq!(words, "Caution", "the severity is a word, not only a colour");
}

#[test]
fn several_files_stand_worst_first_with_a_link_to_each() {
    let files = [silence(), ferry(), mono()];
    let warnings = ["The file is broken off.".to_owned()];
    let names = ["silence.wav", "ferry.wav", "mono.wav"];
    let pages: Vec<_> =
        files.iter().zip(names).map(|(file, name)| file.as_file(name, &warnings)).collect();
    let page = Html::parse_document(&read::page(&pages));
    let headings: Vec<String> = all(&page, "h2").into_iter().map(text).collect();
    let links: Vec<String> = all(&page, "tbody th a").into_iter().map(text).collect();
    assert_eq!(headings, links);
    assert_eq!(headings[0], "ferry.wav");
    let mut order = [0, 1, 2];
    order.sort_by(|&one, &other| by_need(&files[one].reading, &files[other].reading));
    assert_eq!(headings, order.map(|index| names[index]));
    assert_eq!(all(&page, ".findings p").iter().filter(|p| text(**p) == warnings[0]).count(), 3);
}

#[test]
fn a_hostile_file_name_stays_text() {
    let measured = silence();
    let name =
        "</title><script>alert(1)</script><img src=x onerror=\"alert(2)\">&amp;'\u{202e}\0.wav";
    let warning = ["<b>broken</b>".to_owned()];
    let html = read::page(&[measured.as_file(name, &warning)]);
    assert!(!html.contains("<script") && !html.contains("<img") && !html.contains("<b>broken"));
    assert!(!html.contains('\u{202e}') && !html.contains('\0'));
    let page = Html::parse_document(&html);
    assert!(page.errors.is_empty(), "{:?}", page.errors);
    let shown = text(all(&page, "h2")[0]);
    assert_eq!(shown, name.replace(['\u{202e}', '\0'], "\u{fffd}"));
}

#[test]
fn silence_and_absence_are_said_and_explained() {
    let measured = silence();
    let page = Html::parse_document(&read::page(&[measured.as_file("nothing.wav", &[])]));
    let shown = text(all(&page, "main")[0]);
    assert!(!shown.contains("NaN") && !shown.contains("inf"), "{shown}");
    let legend = text(all(&page, "footer")[0]);
    assert!(legend.contains("−∞ is silence") && legend.contains("–"), "{legend}");
}

#[test]
fn a_target_in_rms_is_drawn_over_the_rms() {
    let measured = mono();
    let page = Html::parse_document(&read::page(&[measured.as_file("mono.wav", &[])]));
    let lines = all(&page, "svg[aria-labelledby=file-1-rms-t] polyline.s-target");
    assert_eq!(lines.len(), 1);
    assert!(all(&page, "svg[aria-labelledby=file-1-loudness-t] polyline.s-target").is_empty());
    let signals: Vec<String> =
        all(&page, ".ledger th[scope=rowgroup]").into_iter().map(text).collect();
    assert_eq!(signals, ["Busmono"], "a mono file has one signal and no halves");
}
