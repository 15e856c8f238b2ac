//! Tables of the page of the sum test that are made from what the tests count.

const PAGE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../docs/sum-test.md");

/// Holds the page's tables, each by the name behind its mark, against these; writes them where
/// `LEDGERLINE_UPDATE_DOCS` is set.
///
/// # Panics
///
/// When one is stale, or the page has no place for it.
pub fn hold(tables: &[(&str, String)]) {
    // Tests of one program run at once, and several write the page.
    static WRITING: std::sync::Mutex<()> = std::sync::Mutex::new(());
    let _one_at_a_time = WRITING.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    let page = std::fs::read_to_string(PAGE).expect("the page of the sum test");
    let mut expected = page.clone();
    for (name, table) in tables {
        let (open, close) = (format!("<!-- {name} -->\n"), "<!-- end -->");
        let start = expected.find(&open).expect("a mark in the page") + open.len();
        let end = start + expected[start..].find(close).expect("a mark in the page");
        expected.replace_range(start..end, table);
    }
    if std::env::var_os("LEDGERLINE_UPDATE_DOCS").is_some() {
        std::fs::write(PAGE, expected).expect("the page can be written");
    } else {
        assert!(
            page == expected,
            "docs/sum-test.md is stale: set LEDGERLINE_UPDATE_DOCS=1 and run again"
        );
    }
}
