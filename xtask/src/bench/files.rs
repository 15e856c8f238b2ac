//! The command on files: a long one beside ffmpeg's loudness filter, and many short ones.
//!
//! Wall time, since both sides may use every processor. Runs alternate, and the median of the
//! paired ratios counts. Before any time is told, both sides' loudness is compared.

use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Instant;

use anyhow::{Context, Result, ensure};
use ledgerline_tests::signals::{Stereo, bench_mix};
use serde_json::{Value, json};

use super::median;
use crate::demo::wav;
use crate::run::check;
use crate::workspace::Workspace;

/// Runs of each side.
const RUNS: usize = 5;
/// How often the ferry mix follows itself in the long file.
const MINUTES: usize = 5;
/// Length of a short file, in seconds.
const SHORT_S: f64 = 10.0;
/// How many short files there are, and how often each is named.
const SHORT_FILES: usize = 20;
const TIMES_NAMED: usize = 10;
/// ffmpeg prints one decimal, and its K-weighting drifts at high rates.
const AGREEMENT_LU: f64 = 0.1;

/// What reading files takes.
pub struct Files {
    /// Seconds for the long file, run by run: ours, ffmpeg's. Without ffmpeg, ours alone.
    long_s: Vec<(f64, Option<f64>)>,
    /// Short files a second.
    short_per_second: f64,
}

impl Files {
    /// How many times faster than ffmpeg, where there is one.
    pub fn speed_up(&self) -> Option<f64> {
        let ratios: Option<Vec<f64>> =
            self.long_s.iter().map(|(ours, peer)| Some((*peer)? / ours)).collect();
        ratios.map(median)
    }

    /// The figures as a record, raw runs included.
    pub fn record(&self) -> Value {
        json!({
            "read_5_minutes_96_khz_s": median(self.long_s.iter().map(|run| run.0).collect()),
            "speed_up_vs_ffmpeg": self.speed_up(),
            "files_per_second": self.short_per_second,
            "runs_s": self.long_s,
        })
    }

    /// For people.
    pub fn print(&self) {
        let ours = median(self.long_s.iter().map(|run| run.0).collect());
        println!("\nledgerline read, 5 minutes of stereo at 96 kHz, 32-bit float: {ours:.2} s");
        match self.speed_up() {
            Some(times) => println!("    {times:.1} times as fast as ffmpeg's ebur128=peak=true"),
            None => println!("    not compared: there is no ffmpeg on this machine"),
        }
        println!(
            "ledgerline read, {} files of {SHORT_S} s at 96 kHz: {:.0} files a second",
            SHORT_FILES * TIMES_NAMED,
            self.short_per_second
        );
    }
}

/// Times the command.
///
/// # Errors
///
/// When a file cannot be written or read, or the two sides disagree.
pub fn run(workspace: &Workspace) -> Result<Files> {
    check(workspace.cargo().args(["build", "--release", "--package", "ledgerline-cli"]))?;
    let program = workspace
        .target
        .join("release")
        .join(format!("ledgerline{}", std::env::consts::EXE_SUFFIX));
    let folder = workspace.target.join("bench").join("files");
    fs::create_dir_all(&folder)?;
    let minute = bench_mix::play();
    let long = folder.join("long.wav");
    wav::write(&long, &repeated(&minute))?;
    let short = short_files(&folder, &minute)?;
    let files = Files {
        long_s: long_runs(&program, &long)?,
        short_per_second: {
            let names: Vec<&Path> =
                (0..TIMES_NAMED).flat_map(|_| short.iter().map(PathBuf::as_path)).collect();
            let (seconds, _) = ours(&program, &names)?;
            names.len() as f64 / seconds
        },
    };
    fs::remove_dir_all(&folder)?;
    Ok(files)
}

fn repeated(minute: &Stereo) -> Stereo {
    Stereo::new(minute.rate_hz, minute.left.repeat(MINUTES), minute.right.repeat(MINUTES))
}

fn short_files(folder: &Path, minute: &Stereo) -> Result<Vec<PathBuf>> {
    let frames = (SHORT_S * minute.rate_hz) as usize;
    let step = (minute.frames() - frames) / SHORT_FILES;
    (0..SHORT_FILES)
        .map(|index| {
            let path = folder.join(format!("short-{index}.wav"));
            wav::write(&path, &minute.cut(index * step..index * step + frames))?;
            Ok(path)
        })
        .collect()
}

fn long_runs(program: &Path, long: &Path) -> Result<Vec<(f64, Option<f64>)>> {
    (0..RUNS)
        .map(|_| {
            let (ours_s, lufs) = ours(program, &[long])?;
            let Some((peer_s, peer_lufs)) = peer(long)? else { return Ok((ours_s, None)) };
            ensure!(
                (lufs - peer_lufs).abs() <= AGREEMENT_LU,
                "ledgerline reads {lufs:.2} LUFS, ffmpeg {peer_lufs:.2}"
            );
            Ok((ours_s, Some(peer_s)))
        })
        .collect()
}

/// Seconds, and the loudness of the first file.
fn ours(program: &Path, files: &[&Path]) -> Result<(f64, f64)> {
    let started = Instant::now();
    let output = Command::new(program)
        .args(["read", "--json", "--fail-on", "never"])
        .args(files)
        .stderr(Stdio::inherit())
        .output()?;
    let seconds = started.elapsed().as_secs_f64();
    ensure!(output.status.success(), "ledgerline read failed: {}", output.status);
    let text = String::from_utf8(output.stdout)?;
    let first = text.lines().next().context("ledgerline read printed nothing")?;
    let record: Value = serde_json::from_str(first)?;
    let lufs = &record["reading"]["whole"]["bus"]["integrated_lufs"];
    Ok((seconds, lufs.as_f64().context("no loudness")?))
}

/// The same of ffmpeg; `None` where there is none.
fn peer(file: &Path) -> Result<Option<(f64, f64)>> {
    let started = Instant::now();
    let command = ["-nostats", "-hide_banner", "-i"].map(OsStr::new);
    let filter = ["-af", "ebur128=peak=true", "-f", "null", "-"].map(OsStr::new);
    let Ok(output) = Command::new("ffmpeg").args(command).arg(file).args(filter).output() else {
        return Ok(None);
    };
    let seconds = started.elapsed().as_secs_f64();
    ensure!(output.status.success(), "ffmpeg failed: {}", output.status);
    let printed = String::from_utf8_lossy(&output.stderr);
    // The summary at the end: "    I:         -15.7 LUFS".
    let lufs = printed
        .lines()
        .rev()
        .find_map(|line| line.trim().strip_prefix("I:")?.trim().strip_suffix(" LUFS"))
        .and_then(|number| number.trim().parse().ok())
        .context("ffmpeg printed no loudness")?;
    Ok(Some((seconds, lufs)))
}
