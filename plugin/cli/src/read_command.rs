//! `ledgerline read`: measures files, and sums up the plugin's logs. One bad file does not keep the
//! others from being read.

mod entries;
mod folder;
mod history;
mod ledger;
mod measurement;
mod record;
mod session;
mod summary;
mod told;

use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};
use ledgerline_measure::verdict::Severity;
use ledgerline_report::read::ReadPage;
use ledgerline_report::session::InstanceLog;
use rayon::prelude::*;

use crate::audio::Input;
use crate::options::ReadOptions;
use crate::outcome::Outcome;
use crate::progress::Progress;
use measurement::{Job, Measurement, Spares};
pub(crate) use record::FileRecord;
use record::SettingsRecord;
use told::{Told, parted};

pub(crate) fn run(options: &ReadOptions, out: &mut dyn Write) -> Result<Outcome> {
    let (paths, unlisted) = folder::files(&options.files);
    if paths.iter().filter(|file| is_standard_input(file)).count() > 1 {
        bail!("standard input (-) can be read once only");
    }
    let job = Job {
        settings: options.measuring.settings(),
        view: options.measuring.view(),
        channels: &options.channels,
        history: options.history.is_some() || options.report.path.is_some(),
        entries: options.tells_entries() || options.report.path.is_some(),
        marks_s: &options.mark,
        ahead: paths.len() == 1,
        spares: Spares::default(),
    };
    let settings = SettingsRecord { settings: job.settings, view: job.view };
    let mut outcome = Outcome::Fine;
    let mut all = Vec::new();
    let mut unread = Vec::new();
    let unlisted = unlisted.into_iter().map(Err);
    for result in read_all(options, &paths, &job).into_iter().chain(unlisted) {
        match result {
            Ok(told) => {
                if options.fail_on.fails(told.severity()) {
                    outcome = outcome.max(Outcome::Faulty);
                }
                all.push(told);
            }
            Err(error) => {
                crate::complain(&error);
                unread.push(format!("{error:#}"));
                outcome = Outcome::NotDone;
            }
        }
    }
    let records = if options.json { all.as_slice() } else { &[] };
    let record = |told: &Told| told.record(settings, options.tells_entries());
    let records: Vec<String> = records.iter().map(record).collect::<Result<_, _>>()?;
    let (measured, logs) = parted(all);
    write_files(options, &measured, &unread, &logs)?;
    for record in &records {
        writeln!(out, "{record}")?;
    }
    if options.json {
        return Ok(outcome);
    }
    // Whoever reads the records finds the warnings there.
    let of_sound = measured.iter().map(|measured| (&measured.file.path, &measured.warnings));
    for (path, warnings) in of_sound.chain(logs.iter().map(|log| (&log.path, &log.warnings))) {
        warnings.iter().for_each(|warning| crate::warn(&format!("{path}: {warning}")));
    }
    print(options, &measured, out)?;
    if !measured.is_empty() && !logs.is_empty() {
        writeln!(out)?;
    }
    session::print(&logs, out)?;
    Ok(outcome)
}

fn is_standard_input(path: &Path) -> bool {
    path.as_os_str() == "-"
}

fn read_all(options: &ReadOptions, paths: &[PathBuf], job: &Job) -> Vec<Result<Told>> {
    let read = |path: &PathBuf, is_watched| {
        Told::read(&Input::from_argument(path), options, job, is_watched)
    };
    match paths {
        [path] => vec![read(path, true)],
        paths => {
            let progress = Progress::new("reading files", Some(paths.len() as u64));
            let one = |path: &PathBuf| {
                let result = read(path, false);
                progress.add(1);
                result
            };
            // As many files at once as there are processors.
            paths.par_iter().map(one).collect()
        }
    }
}

fn write_files(
    options: &ReadOptions,
    measured: &[Measurement],
    unread: &[String],
    logs: &[InstanceLog],
) -> Result<()> {
    if let Some(path) = &options.history {
        history::write(path, measured)
            .with_context(|| format!("the history {} cannot be written", path.display()))?;
    }
    let Some(path) = &options.report.path else { return Ok(()) };
    let command = crate::command_line();
    let made = options.report.made(&command);
    if logs.is_empty() {
        let sheets: Vec<ReadPage> =
            measured.iter().map(|measurement| sheet(measurement, options)).collect();
        return crate::write_report(
            path,
            &ledgerline_report::read::page_with(&sheets, unread, &made),
        );
    }
    if !measured.is_empty() {
        bail!("a report is of sound or of logs, and these are both: make two reports");
    }
    crate::write_report(path, &ledgerline_report::session::page(logs, &made))
}

fn sheet<'a>(measurement: &'a Measurement, options: &ReadOptions) -> ReadPage<'a> {
    ReadPage {
        file: measurement.file.facts(&measurement.warnings),
        reading: &measurement.reading,
        spectrum: &measurement.spectrum,
        history: &measurement.history,
        entries: &measurement.entries,
        settings: options.measuring.settings(),
        view: options.measuring.view(),
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
            ledger::print(measurement, options.measuring.band, out)?;
        }
    }
    if options.tells_entries() {
        for measurement in measured {
            writeln!(out)?;
            entries::print(measurement, view.rms_reference, out)?;
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
