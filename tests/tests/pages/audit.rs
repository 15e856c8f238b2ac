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
fn answers_come_first_and_nothing_is_said_twice() {
    let audits = audits();
    let page = Html::parse_document(&audit::page(&audits, &MADE));
    let against = audits[1].against.as_ref().expect("a comparison");
    assert_eq!(against.alike, Some(false), "a bus that clips adds differently");
    let said: Vec<String> = all(&page, ".said p").into_iter().map(text).collect();
    let headlines = audits.iter().map(|audit| audit.headline.clone());
    let expected: Vec<String> =
        std::iter::once(against.sentence.clone()).chain(headlines).collect();
    assert_eq!(said, expected);
    let signs: Vec<String> = all(&page, ".said .sign").into_iter().map(text).collect();
    assert_eq!(signs, ["Different", "Sums correctly", "Faulty"]);

    let sheets = all(&page, "article");
    let uneven = text(sheets[1]);
    let faulty = &audits[1];
    assert!(!faulty.faults.is_empty());
    let actions = faulty.faults.iter().filter_map(|fault| fault.action);
    for once in faulty.faults.iter().map(|fault| &fault.sentence[..]).chain(actions) {
        assert_eq!(uneven.matches(once).count(), 1, "{once}");
    }
    let raise = "Raise feed 2's channel by 0.92 dB.";
    let order = [&faulty.headline[..], raise, "Graded", "Steps", "Recording and settings"];
    let places: Vec<Option<usize>> = order.iter().map(|words| uneven.find(words)).collect();
    assert!(places.iter().all(Option::is_some) && places.is_sorted(), "{places:?}");

    let meter = audits[0].meter.as_ref().expect("a meter");
    let clean = text(sheets[0]);
    let order = ["Steps", &meter.sentence[..], "Recording and settings"];
    let places: Vec<Option<usize>> = order.iter().map(|words| clean.find(words)).collect();
    assert!(places.iter().all(Option::is_some) && places.is_sorted(), "{places:?}");
}

#[test]
fn sums_of_two_mixers_stand_side_by_side_with_their_difference() {
    let audits = audits();
    let page = Html::parse_document(&audit::page(&audits, &MADE));
    let table = all(&page, "section > .wide table")[0];
    let cells = |selector: &str| -> Vec<String> {
        let selector = Selector::parse(selector).expect("a selector");
        table.select(&selector).map(text).collect()
    };
    assert_eq!(cells("thead th"), ["Sum of", "clean", "uneven", "difference"]);
    let sums = &audits[1].against.as_ref().expect("a comparison").sums;
    assert_eq!(sums.len(), 5);
    assert_eq!(cells("tbody th").len(), 6, "five sums and the null");
    let shown = cells("tbody td");
    for (row, sum) in shown.chunks(3).zip(sums) {
        let difference = words::signed(sum.difference_db, 2);
        assert!(row[2].starts_with(&format!("{difference} ± ")), "{row:?}: {sum:?}");
        assert_eq!(row[2].ends_with('!'), sum.is_told(), "{row:?}: {sum:?}");
    }
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
