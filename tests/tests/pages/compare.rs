//! The page of a comparison: what was found, every number of the record, and charts for what there
//! is to draw.

use ledgerline_measure::compare::levels::LevelRow;
use ledgerline_measure::compare::record::{Edit, EditKind, Spot, SpotKind};
use ledgerline_measure::{Edges, Level, words};
use ledgerline_report::Made;
use ledgerline_report::compare::{ComparePage, FileFacts, page};
use scraper::{ElementRef, Html, Selector};

use super::compared::{changed, identical, strangers};
use super::fixtures::MADE;
use super::structure::all;

fn text(element: ElementRef) -> String {
    element.text().collect::<String>().trim().replace('\u{a0}', " ")
}

fn parsed(comparison: &ledgerline_measure::compare::Comparison) -> Html {
    Html::parse_document(&super::compared::page_of(comparison))
}

#[test]
fn sentence_verdict_and_findings_are_said() {
    for comparison in [changed(), identical(), strangers()] {
        let page = parsed(&comparison);
        let said = all(&page, ".said p");
        assert_eq!(said.len(), 1);
        assert_eq!(text(said[0]), comparison.sentence);
        let listed: Vec<String> = all(&page, ".findings p").into_iter().map(text).collect();
        let findings = comparison.findings.iter().map(|finding| &finding.sentence);
        for sentence in findings.filter(|sentence| **sentence != comparison.sentence) {
            assert!(listed.contains(sentence), "{sentence} is missing");
        }
        for outside in &comparison.outside {
            assert!(listed.contains(outside), "{outside} is missing");
        }
        let words: Vec<String> = all(&page, ".findings b").into_iter().map(text).collect();
        assert_eq!(words.contains(&"Pass".to_owned()), comparison.within);
        assert_eq!(words.contains(&"Fail".to_owned()), !comparison.within);
    }
}

#[test]
fn what_is_audible_and_what_to_do_come_before_what_is_hidden_and_the_numbers() {
    let comparison = changed();
    let page = parsed(&comparison);
    let headings: Vec<String> = all(&page, "h3").into_iter().map(text).collect();
    let order = ["Audible", "What to do", "Hidden", "File", "Tolerances", "Ledger"];
    let places = order.map(|name| headings.iter().position(|heading| heading == name));
    assert!(places.is_sorted() && places[0] == Some(0), "{headings:?}");
    let steps: Vec<String> = all(&page, ".todo li").into_iter().map(text).collect();
    assert!(steps.len() > 1 && steps == comparison.steps(), "{steps:?}");
    // Every limit with what was allowed and what was found.
    let limits = all(&page, "[aria-label=Tolerances] tbody tr");
    let rows: Vec<String> = limits.into_iter().map(text).collect();
    let gain = rows.iter().find(|row| row.starts_with("Gain")).expect("a row of the gain");
    let found = words::signed(comparison.gain_db.expect("a gain"), 2);
    assert!(gain.contains("±0.1 dB") && gain.contains(&format!("{found} dB")), "{gain}");
}

#[test]
fn the_ledger_holds_both_files_and_the_change() {
    let comparison = changed();
    let page = parsed(&comparison);
    let tables = all(&page, "[aria-label=Ledger] tbody");
    let rows: Vec<ElementRef> =
        tables[0].select(&Selector::parse("tr").expect("a selector")).collect();
    let levels = &comparison.levels;
    let expected =
        levels.mix.rows().into_iter().zip(levels.export.rows()).zip(levels.change.rows());
    assert_eq!(rows.len(), levels.mix.rows().len());
    for (row, ((mix, export), change)) in rows.into_iter().zip(expected) {
        let cells: Vec<String> = row
            .select(&Selector::parse("td").expect("a selector"))
            .map(|cell| text(cell).trim_start_matches('+').to_owned())
            .collect();
        let level = |row: &LevelRow| format!("{:.2}", row.value);
        assert_eq!(cells, [level(&mix), level(&export), level(&change)], "{}", mix.name);
    }
}

#[test]
fn what_was_done_to_the_mix_is_drawn() {
    let comparison = changed();
    let page = parsed(&comparison);
    let bars = all(&page, "svg[aria-labelledby=residual-t] rect.f-residual-fill");
    let thirds = &comparison.charts.thirds;
    let sounding = thirds.iter().filter(|third| third.residual_dbfs.finite().is_some()).count();
    assert!(
        sounding > 20 && bars.len() > sounding / 2,
        "{} of {sounding} bars: {}",
        bars.len(),
        comparison.sentence
    );
    assert!(comparison.band_limit_hz.is_some());
    assert_eq!(all(&page, "svg[aria-labelledby=spectra-t] .f-hidden-ground").len(), 1);
    assert!(!all(&page, "svg[aria-labelledby=spectra-t] polyline.s-export").is_empty());
    assert!(!all(&page, "svg[aria-labelledby=over-time-t] polyline.s-residual").is_empty());
}

#[test]
fn edits_and_spots_are_listed_with_how_many_there_are_in_all() {
    let mut comparison = identical();
    let edit = |kind| Edit { mix_s: 61.25, export_s: 60.0, length_s: 10.0, error_s: 0.0, kind };
    let kinds = [EditKind::Removed, EditKind::Inserted, EditKind::Replaced, EditKind::Silenced];
    comparison.edits = kinds.map(edit).to_vec();
    comparison.spots = vec![Spot {
        export_s: 12.5,
        export_frame: 600_000,
        mix_s: 12.5,
        channel: 1,
        samples: 3,
        error_dbfs: Level::from_db(-20.0),
        kind: SpotKind::Zeroed,
    }];
    comparison.spots_found = 1_234;
    let page = parsed(&comparison);
    let edits: Vec<String> =
        all(&page, "[aria-label=Edits] tbody tr").into_iter().map(text).collect();
    assert_eq!(edits.len(), 4);
    assert!(edits[0].contains("Removed") && edits[0].contains("1:01.250"), "{}", edits[0]);
    let spots = text(all(&page, "[aria-label='Wrong spots'] table")[0]);
    assert!(spots.contains("of 1\u{202f}234") && spots.contains("600\u{202f}000"), "{spots}");
}

#[test]
fn hostile_names_and_warnings_of_both_files_stay_text() {
    let comparison = identical();
    let name = "<script>alert(1)</script>\".wav";
    let warnings = ["<b>late</b>".to_owned()];
    let file = FileFacts {
        path: name,
        format: "<i>",
        codec: "\"&",
        decoder: None,
        sample_rate_hz: 48_000,
        channels: 2,
        duration_s: None,
        warnings: &warnings,
    };
    let html = page(&ComparePage {
        mix: file,
        export: file,
        comparison: &comparison,
        edges: Edges::default(),
        made: Made { command: Some("ledgerline compare '<script>' x"), ..MADE },
    });
    assert!(!html.contains("<script") && !html.contains("<b>late") && !html.contains("<i>"));
    let page = Html::parse_document(&html);
    assert!(page.errors.is_empty(), "{:?}", page.errors);
    // Its slash parts a folder from a file.
    assert_eq!(format!("<script>alert(1)</{}", text(all(&page, "h2")[0])), name);
    assert!(all(&page, "td.words").into_iter().any(|cell| text(cell) == name));
}
