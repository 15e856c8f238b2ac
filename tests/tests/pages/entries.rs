//! Entries on the page of a file: numbered lines in the charts over time, what each reads, and each
//! change with what the kinds of meter show of it.

use ledgerline_measure::detector::Detector;
use ledgerline_measure::words;
use ledgerline_report::read;
use ledgerline_tests::signals::Stereo;
use ledgerline_tests::signals::ferry::play_for;
use ledgerline_tests::signals::tone::Sine;
use scraper::{ElementRef, Html};

use super::fixtures::{MADE, Measured, entries, ferry, mono, switched};
use super::structure::all;

fn page(measured: &Measured) -> Html {
    Html::parse_document(&read::page(&[measured.as_file("switched.wav", &[])], &MADE))
}

fn text(element: ElementRef) -> String {
    element.text().collect::<String>().trim().replace('\u{a0}', " ")
}

fn texts(page: &Html, selector: &str) -> Vec<String> {
    all(page, selector).into_iter().map(text).collect()
}

#[test]
fn entries_are_numbered_lines_and_a_mark_is_drawn_otherwise_than_a_step() {
    let page = page(&switched());
    let chart = "svg[aria-labelledby=file-1-history-t]";
    assert_eq!(texts(&page, &format!("{chart} text.f-text")), ["1", "2", "3"]);
    assert_eq!(all(&page, &format!("{chart} polyline.s-marked")).len(), 2, "through both lanes");
    let key = texts(&page, &format!("figure:has({chart}) .key li"));
    assert_eq!(
        key[key.len() - 2..],
        ["entry, with its number", "entry that begins at a mark, with its number"]
    );
    // Told apart without colour.
    let style = texts(&page, "head style").concat();
    let dashed = style.lines().find(|line| line.contains(".s-marked{")).expect("its style");
    assert!(dashed.contains("stroke-dasharray"), "{dashed}");
}

#[test]
fn the_table_tells_where_entries_lie_and_what_they_read() {
    let measured = switched();
    let page = page(&measured);
    let rows = texts(&page, "[aria-label=Entries] td");
    let rows: Vec<&[String]> = rows.chunks(8).collect();
    assert_eq!(rows.len(), 3);
    let begun: Vec<&str> = rows.iter().map(|row| row[2].as_str()).collect();
    assert_eq!(begun, ["start", "level step", "mark"]);
    let what: Vec<&str> = rows.iter().map(|row| row[7].as_str()).collect();
    assert_eq!(what, ["–", "decorrelated", "unchanged"]);
    for (row, entry) in rows.iter().zip(measured.entries.iter()) {
        let [rms, peak] = [Detector::Rms, Detector::SamplePeak]
            .map(|meter| words::level(entry.levels.whole.bus.of(meter), 2));
        assert_eq!([&row[3], &row[5]], [&rms, &peak]);
    }
}

#[test]
fn each_change_stands_with_its_sentence_and_what_meters_show_of_it() {
    let measured = switched();
    let page = page(&measured);
    let sentences = texts(&page, "[aria-label=Changes] td.sentence");
    let changes: Vec<_> =
        measured.entries.iter().filter_map(|entry| entry.change.as_ref()).collect();
    assert_eq!(sentences, changes.iter().map(|c| c.sentence.as_str()).collect::<Vec<_>>());
    assert_eq!(texts(&page, "[aria-label=Changes] th[scope=rowgroup]"), ["1 → 2", "2 → 3"]);
    assert_eq!(texts(&page, "[aria-label=Changes] th[scope=row]"), ["Sum", "Bus", "Sum", "Bus"]);
    let shown = texts(&page, "[aria-label=Changes] td:not(.sentence)");
    let meters = [Detector::Rms, Detector::SamplePeak, Detector::TruePeak, Detector::Momentary];
    let expected: Vec<String> = changes
        .iter()
        .flat_map(|c| [[&c.whole.sum, &c.audible.sum], [&c.whole.bus, &c.audible.bus]])
        .flat_map(|bands| meters.map(|meter| bands.map(|band| words::change(band.of(meter), 2))))
        .flatten()
        .collect();
    assert_eq!(shown, expected);
    // The finding itself: the energy falls by 3 dB, and a sample-peak meter shows nothing of it.
    let number = |cell: &str| cell.replace('−', "-").parse::<f64>().expect("a number");
    assert!((number(&shown[0]) + 3.01).abs() < 0.1 && number(&shown[2]).abs() < 0.2, "{shown:?}");
}

#[test]
fn one_entry_is_not_told_and_moving_sound_is_said_to_have_none() {
    let told = |measured: &Measured| {
        let page = page(measured);
        texts(&page, "h3").contains(&"Entries".into()).then(|| texts(&page, "h3 + p").concat())
    };
    let mut steady = mono();
    let sine = Sine::new(997.0, 0.1).play(48_000.0, 4.0);
    steady.entries = entries(&Stereo::both(48_000.0, sine), None);
    assert_eq!(steady.entries.iter().len(), 1);
    assert_eq!(told(&steady), None);
    let mut moving = ferry();
    assert_eq!(told(&moving), None, "nobody looked");
    moving.entries = entries(&play_for(6.0), None);
    let said = told(&moving).expect("a sentence");
    assert!(said.contains("moves by itself") && said.contains("--mark"), "{said}");
}
