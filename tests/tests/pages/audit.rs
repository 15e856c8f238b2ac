//! The page of a sum test: the verdict, every fault's sentence, every number of the record.

use ledgerline_measure::detector::Detector;
use ledgerline_measure::words;
use ledgerline_report::audit;
use scraper::{ElementRef, Html, Selector};

use super::fixtures::{MADE, audits};
use super::structure::all;

fn text(element: ElementRef) -> String {
    element.text().collect::<String>().trim().replace('\u{a0}', " ")
}

#[test]
fn verdict_faults_and_meter_are_said() {
    let audits = audits();
    let page = Html::parse_document(&audit::page(&audits, &MADE));
    let said: Vec<String> = all(&page, ".said p").into_iter().map(text).collect();
    let sentences: Vec<String> = audits.iter().map(|audit| audit.sentence.clone()).collect();
    assert_eq!(said, sentences);
    let signs: Vec<String> = all(&page, ".said .sign").into_iter().map(text).collect();
    assert_eq!(signs, ["Sums correctly", "Faulty"]);
    let faults: Vec<String> = all(&page, ".findings p").into_iter().map(text).collect();
    let expected: Vec<String> =
        audits.iter().flat_map(|audit| &audit.faults).map(|f| f.sentence.clone()).collect();
    assert!(!expected.is_empty());
    assert_eq!(faults, expected);
    let meter = audits[0].meter.as_ref().expect("a meter");
    let whole = text(all(&page, "main")[0]);
    assert!(whole.contains(&meter.sentence));
}

#[test]
fn every_measure_stands_in_a_table_and_what_is_off_is_marked_by_a_sign() {
    let audits = audits();
    let page = Html::parse_document(&audit::page(&audits[1..], &MADE));
    let tables = all(&page, "figure + details table");
    assert_eq!(tables.len(), 2);
    for (table, band) in tables.into_iter().zip(["whole", "audible"]) {
        let rows: Vec<ElementRef> =
            table.select(&Selector::parse("tbody tr").expect("a selector")).collect();
        assert_eq!(rows.len(), audits[1].steps.len());
        for (row, step) in rows.into_iter().zip(&audits[1].steps) {
            let cells: Vec<ElementRef> =
                row.select(&Selector::parse("td").expect("a selector")).skip(1).collect();
            let measures = &step.bands[band];
            assert_eq!(cells.len(), measures.len());
            for (cell, detector) in cells.into_iter().zip(Detector::ALL) {
                let measure = &measures[detector.name()];
                let shown = text(cell);
                let numbers = [measure.change_db, measure.expected_db];
                let numbers = numbers.map(|change| words::change(change, 2)).join(" / ");
                assert_eq!(shown.trim_end_matches('!'), numbers);
                assert_eq!(shown.ends_with('!'), !measure.within, "{shown}");
            }
        }
    }
    // A ring round each of the two charted detectors' marks that lie outside.
    for band in ["whole", "audible"] {
        let rings = all(&page, &format!("svg[aria-labelledby=recording-1-{band}-t] circle")).len();
        let off = audits[1].steps.iter().flat_map(|step| {
            ["rms", "sample_peak"].map(|detector| !step.bands[band][detector].within)
        });
        assert_eq!(rings, off.filter(|off| *off).count());
    }
}
