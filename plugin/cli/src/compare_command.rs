//! `ledgerline compare`: what happened to a mix on its way into an export.

mod alignment;
mod record;
mod source;
mod text;

use std::io::Write;
use std::path::Path;

use anyhow::{Result, bail};
use ledgerline_measure::compare::record::Verdict;
use ledgerline_measure::compare::{CompareError, Comparison, compare};
use ledgerline_report::compare::ComparePage;

use crate::audio::{AudioError, AudioFile, Choice, Input};
use crate::options::CompareOptions;
use crate::outcome::Outcome;
use crate::progress::Progress;
use crate::read_command::FileRecord;
use record::CompareRecord;
use source::FileSource;

/// Steps of the line that says how far the work has come.
const STEPS: f64 = 100.0;

/// Both files and what was found.
struct Compared {
    files: [FileRecord; 2],
    /// What is wrong with each file, though it could be read.
    warnings: [Vec<String>; 2],
    comparison: Comparison,
}

pub(crate) fn run(options: &CompareOptions, out: &mut dyn Write) -> Result<Outcome> {
    let compared = compare_files(options)?;
    if let Some(path) = &options.report.path {
        write_report(path, options, &compared)?;
    }
    if options.json {
        // By way of a text: the library's own writing hides a broken pipe.
        let record = serde_json::to_string(&CompareRecord::new(&compared))?;
        writeln!(out, "{record}")?;
    } else {
        // Whoever reads the record finds the warnings there.
        for (file, warnings) in compared.files.iter().zip(&compared.warnings) {
            for warning in warnings {
                crate::warn(&format!("{}: {warning}", file.path));
            }
        }
        text::print(&compared, out)?;
    }
    Ok(outcome(&compared.comparison))
}

fn outcome(comparison: &Comparison) -> Outcome {
    match comparison.verdict {
        Verdict::CannotTell => Outcome::NotDone,
        _ if comparison.within => Outcome::Fine,
        _ => Outcome::Faulty,
    }
}

fn compare_files(options: &CompareOptions) -> Result<Compared> {
    let open = |path: &Path, track: Option<u32>| -> Result<FileSource> {
        if path.as_os_str() == "-" {
            bail!(
                "standard input can be read once only, and a comparison reads both files several \
                 times: write it to a file first"
            );
        }
        let choice = Choice { track, own_decoders_only: options.own_decoders_only };
        Ok(FileSource::new(AudioFile::open(&Input::from_argument(path), choice)?))
    };
    let mut mix = open(&options.mix, options.track)?;
    let mut export = open(&options.export, options.export_track)?;
    let progress = Progress::new("comparing", Some(STEPS as u64));
    let mut done = 0;
    let mut advance = |share: f64| {
        let steps = (share * STEPS) as usize;
        progress.add(steps.saturating_sub(done));
        done = done.max(steps);
    };
    let settings = options.settings(export.info().lossy);
    let comparison = compare(&mut mix, &mut export, &settings, &mut advance)
        .map_err(|error| explain(error, options))?;
    let files = [
        FileRecord::new(mix.info(), comparison.mix.duration_s),
        FileRecord::new(export.info(), comparison.export.duration_s),
    ];
    let warnings = [&mix, &export].map(|source| source.warnings().to_vec());
    Ok(Compared { files, warnings, comparison })
}

fn explain(error: CompareError<AudioError>, options: &CompareOptions) -> anyhow::Error {
    let of = |path: &Path| format!("{} has no channels or no sample rate", path.display());
    match error {
        CompareError::Mix(error) | CompareError::Export(error) => error.into(),
        CompareError::EmptyMix => anyhow::anyhow!(of(&options.mix)),
        CompareError::EmptyExport => anyhow::anyhow!(of(&options.export)),
        CompareError::Settings(error) => error.into(),
    }
}

/// Writes the page of a comparison.
fn write_report(path: &Path, options: &CompareOptions, compared: &Compared) -> Result<()> {
    let [mix, export] = &compared.files;
    let command = crate::command_line();
    let page = ComparePage {
        mix: mix.facts(&compared.warnings[0]),
        export: export.facts(&compared.warnings[1]),
        comparison: &compared.comparison,
        edges: options.band,
        made: options.report.made(&command),
    };
    crate::write_report(path, &ledgerline_report::compare::page(&page))
}
