//! Plays a track through the plugin and through the measures, and holds them against each other.

use std::io::{IsTerminal, Write};
use std::path::PathBuf;
use std::time::Instant;

use anyhow::{Context, Result, ensure};
use ledgerline::handover::Snapshot;
use ledgerline_measure::entries::ENTRY_SCHEMA;
use ledgerline_measure::reading::READING_SCHEMA;
use ledgerline_tests::hosts::{ClapHost, Host, Layout, Setup, Take};
use ledgerline_tests::journal;
use ledgerline_tests::signals::Stereo;
use serde_json::Value;

use crate::measured::measure;

/// The plugin and where it logs.
pub struct Player {
    /// The built CLAP file.
    pub bundle: PathBuf,
    /// Folder of the log.
    pub log: PathBuf,
}

/// What came of a track.
pub struct Played {
    /// The plugin's last log line.
    pub logged: Value,
    /// The entries that the plugin logged, as records.
    pub entries: Vec<Value>,
    /// The same reading as plain data, with its spectrum.
    pub snapshot: Snapshot,
}

impl Player {
    /// Plays a track through a new instance of the plugin.
    ///
    /// # Errors
    ///
    /// When the plugin fails, changes a sample, or logs anything else than the measures read.
    pub fn play(&self, what: &str, track: &Stereo) -> Result<Played> {
        self.play_through_plugin(what, track)?;
        // The instance is gone: its log is whole.
        let file = journal::files(&self.log).pop().context("the plugin logged nothing")?;
        let lines = journal::lines(&file);
        let logged = journal::of_schema(&lines, READING_SCHEMA).pop();
        let logged = logged.context("the plugin logged no reading")?;
        let entries = journal::of_schema(&lines, ENTRY_SCHEMA);
        let snapshot =
            with_progress("Measuring the same samples without the plugin", || measure(track))?;
        journal::assert_same(&logged, &journal::as_logged(&snapshot.reading));
        eprintln!("    the logged reading is the same to the last digit");
        Ok(Played { logged, entries, snapshot })
    }

    fn play_through_plugin(&self, what: &str, track: &Stereo) -> Result<()> {
        let mut host = ClapHost::load(&self.bundle)?;
        // As a render: much faster than it sounds, and entries are found of all of it.
        host.activate(Setup { offline: true, ..Setup::new(track.rate_hz, Layout::Stereo) })?;
        let second = track.rate_hz as usize;
        let mut progress = Progress::start(what);
        for start in (0..track.frames()).step_by(second) {
            let end = track.frames().min(start + second);
            let piece = track.cut(start..end);
            let main = [piece.left, piece.right];
            let output = host.play(&Take::new(&main))?;
            ensure!(output == main, "the plugin changed the audio in second {}", start / second);
            progress.show(end as f64 / track.frames() as f64);
        }
        host.deactivate();
        let length_s = track.frames() as f64 / track.rate_hz;
        progress.end(&format!("{length_s:.0} s of audio"));
        Ok(())
    }
}

/// Says what is done, does it, and says how long it took.
pub fn with_progress<T>(what: &str, work: impl FnOnce() -> T) -> T {
    let progress = Progress::start(what);
    let result = work();
    progress.end("done");
    result
}

/// A line that shows how far a piece of work has come.
struct Progress {
    what: String,
    started: Instant,
    redraws: bool,
}

impl Progress {
    fn start(what: &str) -> Self {
        let progress = Self {
            what: what.into(),
            started: Instant::now(),
            redraws: std::io::stderr().is_terminal(),
        };
        eprint!("    {what} …");
        let _ = std::io::stderr().flush();
        progress
    }

    fn show(&mut self, share: f64) {
        if self.redraws {
            eprint!("\r    {} … {:3.0} %", self.what, 100.0 * share);
            let _ = std::io::stderr().flush();
        }
    }

    fn end(self, result: &str) {
        let start = if self.redraws { format!("\r    {} …", self.what) } else { String::new() };
        eprintln!("{start} {result} in {:.1} s", self.started.elapsed().as_secs_f64());
    }
}
