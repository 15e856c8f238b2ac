//! Comparisons on constructed chains with known answers. Each step is made by a long exact method of
//! its own (`chains.rs`), none of it shared with what is tested.

mod codecs;
mod damage;
mod edits;
mod held;
mod nothing;
mod path;
mod purposes;
mod real_chains;
mod words;

use std::sync::LazyLock;

use ledgerline_measure::compare::finding::Code;
use ledgerline_measure::compare::record::Alignment;
use ledgerline_measure::compare::{CompareSettings, Comparison, compare};
use ledgerline_tests::chains;
use ledgerline_tests::memory::Memory;
use ledgerline_tests::signals::session;

/// Music at 48 kHz, 24 bits.
static MIX: LazyLock<Memory> =
    LazyLock::new(|| chains::quantised(&session::play(1, 48_000, 24.0), 24, 0));
/// A longer piece, for what is cut out of it.
static LONG: LazyLock<Memory> =
    LazyLock::new(|| chains::quantised(&session::play(3, 48_000, 45.0), 24, 0));

fn compared(mix: &Memory, export: &Memory) -> Comparison {
    compare(&mut mix.clone(), &mut export.clone(), &CompareSettings::default(), &mut |_| ())
        .unwrap_or_else(|error| panic!("{error}"))
}

/// What was found, with a message that shows it all.
trait Found {
    fn at(&self) -> Alignment;
    fn codes(&self) -> Vec<Code>;
    /// The only findings, in any order.
    fn has_only(&self, codes: &[Code]);
    fn is_near(&self, what: &str, found: Option<f64>, expected: f64, tolerance: f64);
}

impl Found for Comparison {
    fn at(&self) -> Alignment {
        self.alignment.unwrap_or_else(|| panic!("not aligned: {}", self.sentence))
    }

    fn codes(&self) -> Vec<Code> {
        self.findings.iter().map(|finding| finding.code).collect()
    }

    fn has_only(&self, codes: &[Code]) {
        // Readings change with almost anything.
        let readings = [Code::Loudness, Code::TruePeak, Code::Hidden];
        let mut found = self.codes();
        found.retain(|code| !readings.contains(code));
        found.sort_unstable();
        let mut expected = codes.to_vec();
        expected.sort_unstable();
        assert_eq!(found, expected, "{}\n{:#?}", self.sentence, self.findings);
    }

    fn is_near(&self, what: &str, found: Option<f64>, expected: f64, tolerance: f64) {
        let near = found.is_some_and(|found| (found - expected).abs() <= tolerance);
        assert!(near, "{what}: {found:?}, expected {expected} ± {tolerance}\n{}", self.sentence);
    }
}

/// A linear factor from decibels.
fn gain(db: f64) -> f64 {
    10f64.powf(db / 20.0)
}
