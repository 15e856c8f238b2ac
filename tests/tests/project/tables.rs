//! The documents' tables say what the code says.

use std::fs;
use std::path::Path;

use ledgerline_tests::tables::TABLES;

#[test]
fn tables_of_parameters_and_options_are_those_of_the_code() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    for table in TABLES {
        let text = fs::read_to_string(root.join(table.document)).expect(table.document);
        let made = table.within(&text).expect("a place for the table");
        assert!(
            text == made,
            "{} is behind the code; write its table anew: cargo xtask tables",
            table.document
        );
    }
}
