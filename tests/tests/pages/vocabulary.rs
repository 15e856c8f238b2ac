//! Pages speak the product's one vocabulary.

use ledgerline_tests::vocabulary::check;
use scraper::{Html, Selector};

use super::fixtures::pages;

#[test]
fn every_text_on_every_page_is_in_one_vocabulary() {
    let body = Selector::parse("body").expect("a selector");
    let described = Selector::parse("[aria-label]").expect("a selector");
    for (name, page) in pages() {
        let page = Html::parse_document(page);
        let texts = page.select(&body).flat_map(|body| body.text());
        // Commands are what is typed.
        let texts = texts.filter(|text| !text.starts_with("ledgerline "));
        check(name, texts);
        let labels = page.select(&described).filter_map(|e| e.value().attr("aria-label"));
        labels.for_each(|label| {
            check(name, [label]);
        });
    }
}
