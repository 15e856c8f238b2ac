//! A comparison for the terminal, no wider than 100 columns: the sentence first, whether it passes,
//! what is audible, what to do, what is hidden, the file's books; then the ledger of levels and how
//! the files lie against each other.

use std::io::{Result, Write};

use ledgerline_measure::compare::Comparison;
use ledgerline_measure::compare::finding::Concern;
use ledgerline_measure::compare::levels::LevelSet;
use ledgerline_measure::compare::record::Verdict;
use ledgerline_measure::verdict::Severity;
use ledgerline_measure::words;

use super::{Compared, alignment};
use crate::colour::HEADING;
use crate::text::{self, Table};

pub(super) fn print(compared: &Compared, out: &mut dyn Write) -> Result<()> {
    let comparison = &compared.comparison;
    for (name, file) in ["mix", "export"].into_iter().zip(&compared.files) {
        writeln!(out, "{HEADING}{name:<8}{HEADING:#}{}", text::shortened(&file.path, 90))?;
        writeln!(out, "        {}", file.facts(&[]).line(file.duration_s))?;
    }
    writeln!(out)?;
    text::print_paragraph(&comparison.sentence, out)?;
    tolerances(comparison, out)?;
    writeln!(out)?;
    findings("Audible", Concern::Audible, comparison, out)?;
    steps(comparison, out)?;
    findings("Hidden", Concern::Hidden, comparison, out)?;
    findings("File", Concern::File, comparison, out)?;
    levels(comparison, out)?;
    alignment::print(comparison, out)
}

fn tolerances(comparison: &Comparison, out: &mut dyn Write) -> Result<()> {
    if comparison.verdict == Verdict::CannotTell {
        return Ok(());
    }
    writeln!(out)?;
    let judged = comparison.judged_as();
    if comparison.within {
        let sentence = format!("{judged}: everything lies within the tolerances.");
        return text::print_sentence(Severity::Clear, &sentence, out);
    }
    let outside = format!("{judged}: outside the tolerances. {}.", comparison.outside.join("; "));
    text::print_sentence(Severity::Fault, &outside, out)
}

fn levels(comparison: &Comparison, out: &mut dyn Write) -> Result<()> {
    let [mix, export, change] =
        [comparison.levels.mix, comparison.levels.export, comparison.levels.change]
            .map(|levels: LevelSet| levels.rows());
    let mut table = Table::new();
    table.heading(["", "", "mix", "export", "change", ""]);
    for ((mix, export), change) in mix.iter().zip(&export).zip(&change) {
        if !mix.value.exists() && !export.value.exists() {
            continue;
        }
        table.row([
            mix.name.to_owned(),
            mix.unit.to_owned(),
            mix.value.to_string(),
            export.value.to_string(),
            words::change(change.value, 2),
            change.change_unit.to_owned(),
        ]);
    }
    let counted = |name: &str, added: Option<i64>| {
        let cell = words::signed_count(added, words::count);
        [name.to_owned(), String::new(), String::new(), String::new(), cell, String::new()]
    };
    table.row(counted("Overs", comparison.overs_added));
    table.row(counted("Flat tops", comparison.clipped_runs_added));
    table.print(out)?;
    writeln!(out)
}

/// The findings of one concern, under its name.
fn findings(
    heading: &str,
    concern: Concern,
    comparison: &Comparison,
    out: &mut dyn Write,
) -> Result<()> {
    let mut found = comparison.told(concern).peekable();
    if found.peek().is_none() {
        return Ok(());
    }
    writeln!(out, "{HEADING}{heading}{HEADING:#}")?;
    for finding in found {
        text::print_sentence(finding.severity, &finding.sentence, out)?;
    }
    writeln!(out)
}

/// What to do.
fn steps(comparison: &Comparison, out: &mut dyn Write) -> Result<()> {
    let steps = comparison.steps();
    if steps.is_empty() {
        return Ok(());
    }
    writeln!(out, "{HEADING}What to do{HEADING:#}")?;
    for step in steps {
        text::print_paragraph(step, out)?;
    }
    writeln!(out)
}
