//! `ledgerline read`: measures files. One bad file does not keep the others from being read.

mod entries;
mod history;
mod ledger;
mod measurement;
mod record;
mod summary;

use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};
use ledgerline_measure::verdict::Severity;
use ledgerline_report::read::ReadPage;
use rayon::prelude::*;

use crate::audio::{AudioFile, Input};
use crate::options::ReadOptions;
use crate::outcome::Outcome;
use crate::progress::Progress;
use measurement::{Job, Measurement};
pub(crate) use record::FileRecord;
use record::{ReadRecord, SettingsRecord};

pub(crate) fn run(options: &ReadOptions, out: &mut dyn Write) -> Result<Outcome> {
    if options.files.iter().filter(|file| is_standard_input(file)).count() > 1 {
        bail!("standard input (-) can be read once only");
    }
    let job = Job {
        settings: options.measuring.settings(),
        view: options.measuring.view(),
        channels: &options.channels,
        history: options.history.is_some() || options.report.is_some(),
        entries: options.tells_entries() || options.report.is_some(),
        marks_s: &options.mark,
        ahead: options.files.len() == 1,
    };
    let settings = SettingsRecord { settings: job.settings, view: job.view };
    let mut outcome = Outcome::Fine;
    let mut measured = Vec::new();
    for result in measure_all(options, &job) {
        match result {
            Ok(measurement) => {
                if options.fail_on.fails(measurement.severity()) {
                    outcome = outcome.max(Outcome::Faulty);
                }
                measured.push(measurement);
            }
            Err(error) => {
                crate::complain(&error);
                outcome = Outcome::NotDone;
            }
        }
    }
    write_files(options, &measured)?;
    if options.json {
        for measurement in &measured {
            // By way of a text: the library's own writing hides a broken pipe.
            let record = ReadRecord::new(measurement, settings, options.tells_entries());
            let record = serde_json::to_string(&record)?;
            writeln!(out, "{record}")?;
        }
        return Ok(outcome);
    }
    // Whoever reads the records finds the warnings there.
    for measurement in &measured {
        for warning in &measurement.warnings {
            crate::warn(&format!("{}: {warning}", measurement.file.path));
        }
    }
    print(options, &measured, out)?;
    Ok(outcome)
}

fn is_standard_input(path: &Path) -> bool {
    path.as_os_str() == "-"
}

fn measure_all(options: &ReadOptions, job: &Job) -> Vec<Result<Measurement>> {
    let open = |path: &PathBuf| -> Result<AudioFile> {
        Ok(AudioFile::open(&Input::from_argument(path), options.track)?)
    };
    match options.files.as_slice() {
        [path] => vec![open(path).and_then(|audio| {
            let progress = Progress::new("reading", audio.info().frames);
            job.run(audio, |frames| progress.add(frames))
        })],
        paths => {
            let progress = Progress::new("reading files", Some(paths.len() as u64));
            let measure = |path: &PathBuf| {
                let result = open(path).and_then(|audio| job.run(audio, |_| ()));
                progress.add(1);
                result
            };
            // As many files at once as there are processors.
            paths.par_iter().map(measure).collect()
        }
    }
}

fn write_files(options: &ReadOptions, measured: &[Measurement]) -> Result<()> {
    if let Some(path) = &options.history {
        history::write(path, measured)
            .with_context(|| format!("the history {} cannot be written", path.display()))?;
    }
    if let Some(path) = &options.report {
        let command = crate::command_line();
        let sheets: Vec<ReadPage> =
            measured.iter().map(|measurement| sheet(measurement, options, &command)).collect();
        crate::write_report(path, &ledgerline_report::read::page(&sheets))?;
    }
    Ok(())
}

fn sheet<'a>(
    measurement: &'a Measurement,
    options: &ReadOptions,
    command: &'a str,
) -> ReadPage<'a> {
    ReadPage {
        file: measurement.file.facts(&measurement.warnings),
        reading: &measurement.reading,
        spectrum: &measurement.spectrum,
        history: &measurement.history,
        settings: options.measuring.settings(),
        view: options.measuring.view(),
        command: Some(command),
    }
}

fn print(options: &ReadOptions, measured: &[Measurement], out: &mut dyn Write) -> Result<()> {
    let view = options.measuring.view();
    if measured.len() > 1 {
        summary::print(measured, out)?;
    }
    if measured.len() == 1 || options.full {
        for (index, measurement) in measured.iter().enumerate() {
            if index > 0 || measured.len() > 1 {
                writeln!(out)?;
            }
            ledger::print(measurement, options.measuring.band, &view, out)?;
        }
    }
    if options.tells_entries() {
        for measurement in measured {
            writeln!(out)?;
            entries::print(measurement, out)?;
        }
    }
    Ok(())
}

impl Measurement {
    /// Of the worst finding.
    fn severity(&self) -> Severity {
        let findings = self.reading.findings.as_slice();
        findings.iter().map(|finding| finding.severity).max().unwrap_or(Severity::Clear)
    }
}
