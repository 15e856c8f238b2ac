//! The page of a reading: its numbers are the reading's, whatever the file is called.

use ledgerline_measure::reading::{Levels, WindowLevels};
use ledgerline_measure::{Level, Target, View, words};
use ledgerline_report::Made;
use ledgerline_report::read::{self, by_need};
use ledgerline_tests::signals::tone::Sine;
use ledgerline_tests::signals::{self, Stereo};
use scraper::{ElementRef, Html, Selector};

use super::fixtures::{MADE, Measured, ferry, mono, over, silence};
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
        let page = Html::parse_document(&read::page(&[measured.as_file("bus.wav", &[])], &MADE));
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
    let page = Html::parse_document(&read::page(&[measured.as_file("bus.wav", &[])], &MADE));
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
    let page = Html::parse_document(&read::page(&pages, &MADE));
    let headings: Vec<String> = all(&page, "article h2").into_iter().map(text).collect();
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
    let html = read::page(&[measured.as_file(name, &warning)], &MADE);
    assert!(!html.contains("<script") && !html.contains("<img") && !html.contains("<b>broken"));
    assert!(!html.contains('\u{202e}') && !html.contains('\0'));
    let page = Html::parse_document(&html);
    assert!(page.errors.is_empty(), "{:?}", page.errors);
    let name = name.replace(['\u{202e}', '\0'], "\u{fffd}");
    // Its slash parts a folder from a file.
    assert_eq!(format!("</title><script>alert(1)</{}", text(all(&page, "h2")[0])), name);
    assert_eq!(text(all(&page, ".facts .path")[0]), name);
}

#[test]
fn silence_and_absence_are_said_and_explained() {
    let measured = silence();
    let page = Html::parse_document(&read::page(&[measured.as_file("nothing.wav", &[])], &MADE));
    let shown = text(all(&page, "main")[0]);
    assert!(!shown.contains("NaN") && !shown.contains("inf"), "{shown}");
    let legend = text(all(&page, "footer")[0]);
    assert!(legend.contains("−∞ is silence") && legend.contains("–"), "{legend}");
}

#[test]
fn a_target_in_rms_is_drawn_over_the_rms() {
    let measured = mono();
    let page = Html::parse_document(&read::page(&[measured.as_file("mono.wav", &[])], &MADE));
    let chart = "svg[aria-labelledby=file-1-history-t]";
    let bottom = |line: &str| {
        let line = all(&page, &format!("{chart} polyline.{line}"))[0];
        let points = line.attr("points").expect("points");
        let y = points.split(' ').filter_map(|point| point.split_once(',')?.1.parse::<f64>().ok());
        y.fold(0.0, f64::max)
    };
    assert_eq!(all(&page, &format!("{chart} polyline.s-target")).len(), 1);
    // The lane of RMS lies under that of peaks.
    assert!(bottom("s-target") > bottom("s-ceiling"), "{}", bottom("s-target"));
    let signals: Vec<String> =
        all(&page, ".ledger th[scope=rowgroup]").into_iter().map(text).collect();
    assert_eq!(signals, ["Busmono"], "a mono file has one signal and no halves");
}

#[test]
fn the_head_says_when_and_by_whom_and_folders_stand_at_the_foot() {
    let measured = mono();
    let path = "/projects/night crossing/mono.wav";
    let by = Made { by: Some("<b>Mira"), ..MADE };
    let html = read::page(&[measured.as_file(path, &[])], &by);
    let page = Html::parse_document(&html);
    assert_eq!(text(all(&page, ".made")[0]), "2026-11-14 · 21:00 UTC · by <b>Mira");
    assert_eq!(text(all(&page, "article h2")[0]), "mono.wav");
    let places = html.match_indices("night crossing").count();
    assert_eq!(places, 1, "the path stands once");
    let details = all(&page, ".facts").into_iter().next_back().expect("details");
    assert!(text(details).contains(path), "{}", text(details));
    let unsigned = Made { by: None, ..MADE };
    let page = Html::parse_document(&read::page(&[], &unsigned));
    assert_eq!(text(all(&page, ".made")[0]), "2026-11-14 · 21:00 UTC");
}

/// The large numbers: name and number with its unit.
fn tiles(measured: &Measured) -> Vec<(String, String)> {
    let page = Html::parse_document(&read::page(&[measured.as_file("bus.wav", &[])], &MADE));
    let names = all(&page, ".tiles dt").into_iter().map(text);
    let numbers = all(&page, ".tiles dd").into_iter().map(|dd| {
        let parts: Vec<&str> = dd.text().map(str::trim).filter(|part| !part.is_empty()).collect();
        parts[..2].join(" ")
    });
    names.zip(numbers).collect()
}

/// A view with the usual target.
fn aiming() -> View {
    View { target: Some(Target::default()), ..View::default() }
}

fn tone(amplitude: f64) -> Measured {
    let sine = Sine::new(997.0, amplitude).play(48_000.0, 4.0);
    Measured::of(&Stereo::both(48_000.0, sine), aiming())
}

#[test]
fn no_large_number_leads_over_the_ceiling_or_is_negative() {
    let far = |name: &str, db: &str| (name.to_owned(), format!("{db} dB"));
    // A sine of 997 Hz in both channels reads its own level in LUFS, and −23 is aimed at.
    let loud = tiles(&tone(0.9));
    assert_eq!(loud, [far("Turn down now", "22.1"), far("After filters: turn down", "22.1")]);
    let low = tiles(&tone(0.01));
    assert_eq!(low, [far("Lift now", "17.0"), far("After filters", "17.0")]);
    let ferry = Measured::of(&signals::ferry::play(), aiming());
    let reading = &ferry.reading;
    let shown = [reading.lift_now_db, reading.room.lift_allowed_db].map(|lift| lift.finite());
    let [Some(now), Some(filtered)] = shown else { panic!("lifts") };
    assert!(now < 0.0 && filtered < 0.0, "{now} {filtered}");
    let distance = |db: f64| words::fixed(db.abs(), 1);
    let expected = [
        far("Turn down now", &distance(now)),
        far("After filters: turn down", &distance(filtered)),
    ];
    assert_eq!(tiles(&ferry), expected);
}

#[test]
fn overs_take_the_place_of_the_lift() {
    let shown = tiles(&over());
    // Who follows it comes out under the ceiling of −1 dBTP.
    assert_eq!(shown[0], ("Over: turn down by".into(), "1.4 dB".into()));
    let page = read::page(&[over().as_file("bus.wav", &[])], &MADE);
    let page = Html::parse_document(&page);
    let of = text(all(&page, ".is-over .of")[0]);
    assert!(of.contains(", first at 0:00.0"), "{of}");
}

#[test]
fn the_account_adds_up() {
    let measured = ferry();
    let page = Html::parse_document(&read::page(&[measured.as_file("bus.wav", &[])], &MADE));
    let prices = all(&page, ".account td:nth-child(2)").into_iter();
    let prices: Vec<f64> =
        prices.map(|cell| number(text(cell).trim_start_matches('+')).expect("a price")).collect();
    let [first, causes @ .., total] = &prices[..] else { panic!("an account") };
    assert_eq!(causes.len(), 3);
    let sum = first + causes.iter().sum::<f64>();
    // Each is rounded to two decimals.
    assert!((sum - total).abs() < 0.025, "{prices:?}");
}

#[test]
fn peaks_and_loudness_never_share_an_axis() {
    let measured = Measured::of(&signals::ferry::play(), aiming());
    let page = Html::parse_document(&read::page(&[measured.as_file("bus.wav", &[])], &MADE));
    let labels: Vec<String> =
        all(&page, "svg[aria-labelledby=file-1-history-t] text").into_iter().map(text).collect();
    for title in ["true peak (dBTP)", "loudness (LUFS)", "0:30"] {
        let count = labels.iter().filter(|label| *label == title).count();
        assert_eq!(count, 1, "{title}: {labels:?}");
    }
    // From 12 LU under the target of −23, and −30 to +3 dBFS.
    for edge in ["−35", "−15", "−30", "0"] {
        assert!(labels.iter().any(|label| label == edge), "{edge}: {labels:?}");
    }
}
