//! `ledgerline audit`: judges recordings. One bad file does not keep the others from being judged.

mod recording;
mod table;
mod text;

use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};
use ledgerline_measure::sum_test::identification::usual_resolution_db;
use ledgerline_measure::sum_test::{
    Audit, ShownReading, Verdict, audit_within, compare_with_first, identify,
};
use ledgerline_report::audit::rows::rows;

use crate::audio::Choice;
use crate::options::{AuditOptions, Shown};
use crate::outcome::Outcome;
use recording::Recording;

/// Options, checked against each other.
struct Plan<'a> {
    recordings: Vec<&'a Path>,
    readings: Vec<ShownReading>,
    resolution_db: f64,
}

impl<'a> Plan<'a> {
    fn new(options: &'a AuditOptions) -> Result<Self> {
        let mut recordings: Vec<&Path> = options.recordings.iter().map(PathBuf::as_path).collect();
        let mut readings = Vec::new();
        for shown in &options.shown {
            match shown {
                Shown::Reading(reading) => readings.push(*reading),
                Shown::Recording(path) => recordings.push(path),
            }
        }
        if recordings.is_empty() {
            bail!("name at least one recording to judge");
        }
        if !readings.is_empty() && recordings.len() > 1 {
            bail!("--shown belongs to one mixer: name one recording with it");
        }
        if options.table && options.json {
            bail!("--table and --json are two ways to print the same: choose one");
        }
        let usual = || usual_resolution_db(readings.iter().map(|reading| reading.shown_db));
        let resolution_db = options.resolution.unwrap_or_else(usual);
        Ok(Self { recordings, readings, resolution_db })
    }
}

pub(crate) fn run(options: &AuditOptions, out: &mut dyn Write) -> Result<Outcome> {
    let plan = Plan::new(options)?;
    let mut outcome = Outcome::Fine;
    let mut audits = Vec::new();
    let mut refused = Vec::new();
    for path in &plan.recordings {
        match judge(path, &plan, options) {
            Ok(audit) => {
                outcome = outcome.max(match audit.verdict {
                    Verdict::SumsCorrectly if !audit.is_within_limits() => Outcome::Faulty,
                    Verdict::SumsCorrectly => Outcome::Fine,
                    Verdict::Faulty => Outcome::Faulty,
                    Verdict::CannotTell => Outcome::NotDone,
                });
                audits.push(audit);
            }
            Err(error) => {
                crate::complain(&error);
                refused.push(*path);
                outcome = Outcome::NotDone;
            }
        }
    }
    if audits.is_empty() {
        return Ok(outcome);
    }
    compare_with_first(&mut audits);
    if options.json {
        print_json(&audits, plan.recordings.len() > 1, out)?;
    } else if options.table {
        table::print(&rows(&audits), out)?;
    } else {
        if plan.recordings.len() > 1 {
            text::print_comparison(&audits, &refused, out)?;
        }
        for (index, audit) in audits.iter().enumerate() {
            if index > 0 {
                writeln!(out)?;
            }
            text::print(audit, out)?;
        }
    }
    if let Some(path) = &options.report.path {
        let command = crate::command_line();
        let page = ledgerline_report::audit::page(&audits, &options.report.made(&command));
        crate::write_report(path, &page)?;
    }
    Ok(outcome)
}

fn judge(path: &Path, plan: &Plan, options: &AuditOptions) -> Result<Audit> {
    let choice = Choice { track: None, own_decoders_only: options.own_decoders_only };
    let recording = Recording::read(path, choice)?;
    let channels: Vec<&[f32]> = recording.channels.iter().map(Vec::as_slice).collect();
    let mut audit = audit_within(&channels, recording.rate_hz, options.level, &options.limits)
        .with_context(|| format!("{} cannot be judged", path.display()))?;
    audit.recording.path = Some(path.display().to_string());
    if !plan.readings.is_empty() {
        let meter = identify(recording.rate_hz, &plan.readings, plan.resolution_db)
            .context("the meter cannot be identified")?;
        audit.meter = Some(meter);
    }
    Ok(audit)
}

fn print_json(audits: &[Audit], several: bool, out: &mut dyn Write) -> Result<()> {
    let json = if several {
        serde_json::to_string_pretty(audits)?
    } else {
        serde_json::to_string_pretty(&audits[0])?
    };
    writeln!(out, "{json}")?;
    Ok(())
}
