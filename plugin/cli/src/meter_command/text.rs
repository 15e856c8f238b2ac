//! What meters are, for the terminal.

use std::io::{Result, Write};

use ledgerline_measure::sum_test::Identification;
use ledgerline_measure::words;

use super::Found;
use super::plan::Plan;
use crate::colour::HEADING;
use crate::text::{self, Table, print_paragraph};

/// One meter: the answer, what it says of the sum, the likeliest kinds, and what was assumed.
pub(super) fn one(plan: &Plan, found: &Found<'_>, out: &mut dyn Write) -> Result<()> {
    answer(found, out)?;
    writeln!(out)?;
    text::print_models(&found.identified, out)?;
    assumed(plan, found, out)
}

/// Several: a line each, then the answers.
pub(super) fn several(plan: &Plan, all: &[Found<'_>], out: &mut dyn Write) -> Result<()> {
    let mut table = Table::new();
    table.heading(["meter", "reads", "likely", "same, dB", "independent, dB", "sum"]);
    for found in all {
        let identified = &found.identified;
        let likely = identified.models.first().map(|best| best.probability);
        let likely = likely.filter(|_| identified.possible.len() == 1);
        table.row([
            found.meter.name.clone().unwrap_or_default(),
            kinds(identified),
            words::share(likely, 1),
            change(identified, 3),
            change(identified, 5),
            sum(identified).to_owned(),
        ]);
    }
    table.print(out)?;
    for found in all {
        writeln!(out)?;
        answer(found, out)?;
    }
    writeln!(out)?;
    all.first().map_or(Ok(()), |first| assumed(plan, first, out))
}

fn answer(found: &Found<'_>, out: &mut dyn Write) -> Result<()> {
    if let Some(name) = &found.meter.name {
        writeln!(out, "{HEADING}{name}{HEADING:#}")?;
    }
    print_paragraph(&found.identified.sentence, out)?;
    match &found.identified.summing {
        Some(summing) => print_paragraph(&summing.sentence, out),
        None => Ok(()),
    }
}

/// What was taken for granted, and how to say otherwise.
fn assumed(plan: &Plan, found: &Found<'_>, out: &mut dyn Write) -> Result<()> {
    let read = format!("Read to {} dB.", words::plain(plan.resolution_db));
    let otherwise = "--played says what else was played, --noise which kind of noise it was.";
    let assumed = &found.identified.assumed;
    writeln!(out)?;
    match plan.assumed {
        true => print_paragraph(&format!("{assumed} {read} {otherwise}"), out),
        false => print_paragraph(&format!("{assumed} {read}"), out),
    }
}

fn kinds(identified: &Identification) -> String {
    match &identified.possible[..] {
        [] => "no kind that is known".to_owned(),
        [only] => only.short(),
        [first, second] => format!("{} or {}", first.short(), second.short()),
        several => format!("one of {} kinds", several.len()),
    }
}

/// A step against the noise alone.
fn change(identified: &Identification, step: usize) -> String {
    let mut checks = identified.summing.iter().flat_map(|summing| &summing.checks);
    let found = checks.find(|check| check.step == step && check.against == 1);
    let change_db = found.and_then(|check| check.change_db);
    words::signed(change_db.unwrap_or(f64::NAN), 1)
}

fn sum(identified: &Identification) -> &'static str {
    match identified.summing.as_ref().and_then(|summing| summing.agrees) {
        Some(true) => "as it should be",
        Some(false) => "not as it should be",
        None => "cannot tell",
    }
}
