//! What is true of every page: it is well formed, it needs nothing from elsewhere, and those who do
//! not see it find their way.

use std::collections::HashSet;

use scraper::{ElementRef, Html, Selector};

use super::fixtures::pages;

pub fn all<'a>(page: &'a Html, selector: &str) -> Vec<ElementRef<'a>> {
    page.select(&Selector::parse(selector).expect("a selector")).collect()
}

#[test]
fn every_page_is_well_formed_html() {
    for (name, page) in pages() {
        let page = Html::parse_document(page);
        assert!(page.errors.is_empty(), "{name}: {:?}", page.errors);
        assert_eq!(all(&page, "html[lang=en]").len(), 1, "{name}");
        assert_eq!(all(&page, "head > title").len(), 1, "{name}");
    }
}

#[test]
fn no_page_asks_for_anything() {
    for (name, page) in pages() {
        for asking in ["http:", "https:", "src=", "<script", "<link", "@import", "<iframe", "data:"]
        {
            assert!(!page.contains(asking), "{name} holds {asking}");
        }
        let local = page.matches("url(#").count();
        assert_eq!(page.matches("url(").count(), local, "{name} takes something by address");
        for link in all(&Html::parse_document(page), "[href]") {
            let to = link.attr("href").unwrap_or_default();
            assert!(to.starts_with('#'), "{name} leads to {to}");
        }
    }
}

#[test]
fn headings_come_in_order_and_links_and_labels_lead_somewhere() {
    for (name, page) in pages() {
        let page = Html::parse_document(page);
        let mut last = 0;
        for heading in all(&page, "h1, h2, h3, h4, h5, h6") {
            let level = heading.value().name()[1..].parse::<u32>().expect("a level");
            assert!(level <= last + 1, "{name}: a heading of level {level} under level {last}");
            assert!(level > 1 || last == 0, "{name} has two headings of level 1");
            last = level;
        }
        let ids: Vec<&str> = all(&page, "[id]").iter().filter_map(|e| e.attr("id")).collect();
        let known: HashSet<&str> = ids.iter().copied().collect();
        assert_eq!(ids.len(), known.len(), "{name}: an id stands twice");
        for element in all(&page, "[aria-labelledby], [aria-describedby], a[href]") {
            let ids = ["aria-labelledby", "aria-describedby", "href"];
            for id in ids.iter().filter_map(|attribute| element.attr(attribute)) {
                assert!(known.contains(id.trim_start_matches('#')), "{name}: no {id}");
            }
        }
    }
}

#[test]
fn every_table_names_its_rows_and_columns() {
    for (name, page) in pages() {
        let page = Html::parse_document(page);
        for heading in all(&page, "th") {
            let scope = heading.attr("scope").unwrap_or_default();
            assert!(["row", "col", "rowgroup", "colgroup"].contains(&scope), "{name}: {scope}");
        }
        for table in all(&page, "table") {
            let is_named = |selector: &str| {
                table.select(&Selector::parse(selector).expect("a selector")).next().is_some()
            };
            assert!(is_named("th"), "{name}: a table without headings");
            assert!(is_named("caption"), "{name}: a table without a caption");
        }
    }
}

#[test]
fn every_chart_says_what_it_shows_and_has_its_numbers_in_a_table() {
    for (name, page) in pages() {
        let page = Html::parse_document(page);
        let charts = all(&page, "svg[role=img]");
        assert_eq!(charts.is_empty(), *name == "none", "{name} has {} charts", charts.len());
        for chart in &charts {
            for part in ["title", "desc"] {
                let selector = Selector::parse(part).expect("a selector");
                let words: String =
                    chart.select(&selector).flat_map(|element| element.text()).collect();
                assert!(words.trim().len() > 10, "{name}: a chart with the {part} {words:?}");
            }
            let texts = chart.select(&Selector::parse("text").expect("a selector")).count();
            assert!(texts > 8, "{name}: a chart with {texts} labels");
        }
        let figures = all(&page, "figure");
        assert_eq!(figures.len(), charts.len(), "{name}");
        for figure in figures {
            let next = figure.next_siblings().find_map(ElementRef::wrap).expect("a neighbour");
            let rows = next.select(&Selector::parse("tbody tr").expect("a selector")).count();
            assert_eq!(next.value().name(), "details", "{name}");
            assert!((1..=120).contains(&rows), "{name}: a table of {rows} rows");
        }
        // What is not for reading out is marked as such.
        for drawing in all(&page, "svg:not([role=img])") {
            assert_eq!(drawing.attr("aria-hidden"), Some("true"), "{name}");
        }
    }
}

#[test]
fn six_hours_fit_into_a_megabyte() {
    let (_, page) = pages().iter().find(|(name, _)| *name == "long").expect("the page");
    assert!(page.len() < 1_000_000, "{} bytes", page.len());
}
