//! The command on files: long ones of linear samples, coded and of six channels beside ffmpeg's
//! loudness filter, and many short ones.
//!
//! Wall time, since both sides may use every processor. Runs alternate, and the median of the
//! paired ratios counts. Before any time is told, both sides' loudness is compared.

mod made;

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

/// Runs of each side, and of what ffmpeg made.
const RUNS: usize = 5;
const MADE_RUNS: usize = 3;
/// How often the ferry mix follows itself in the long file.
const MINUTES: usize = 5;
/// Length of a short file, in seconds.
const SHORT_S: f64 = 10.0;
/// How many short files there are, and how often each is named.
const SHORT_FILES: usize = 20;
const TIMES_NAMED: usize = 10;
/// ffmpeg prints one decimal, and its K-weighting drifts at high rates.
const AGREEMENT_LU: f64 = 0.1;

/// A long file, read by both sides.
struct Long {
    name: &'static str,
    channels: usize,
    /// Of sound, in seconds.
    length_s: f64,
    /// Seconds, run by run: ours, ffmpeg's. Without ffmpeg, ours alone.
    runs_s: Vec<(f64, Option<f64>)>,
}

impl Long {
    /// Reads a file so many times.
    fn new(
        name: &'static str,
        (program, path): (&Path, &Path),
        (channels, length_s): (usize, f64),
        runs: usize,
    ) -> Result<Self> {
        eprintln!("    reading {name} …");
        let runs = (0..runs).map(|_| run_beside(program, path).with_context(|| name));
        Ok(Self { name, channels, length_s, runs_s: runs.collect::<Result<_>>()? })
    }

    fn ours_s(&self) -> f64 {
        median(self.runs_s.iter().map(|run| run.0).collect())
    }

    /// How many times faster than ffmpeg, where there is one.
    fn speed_up(&self) -> Option<f64> {
        let ratios: Option<Vec<f64>> =
            self.runs_s.iter().map(|(ours, peer)| Some((*peer)? / ours)).collect();
        ratios.map(median)
    }

    /// Milliseconds for a minute of one channel.
    fn channel_minute_ms(&self) -> f64 {
        1e3 * self.ours_s() / (self.channels as f64 * self.length_s / 60.0)
    }

    fn record(&self) -> Value {
        json!({
            "name": self.name,
            "channels": self.channels,
            "length_s": self.length_s,
            "read_s": self.ours_s(),
            "channel_minute_ms": self.channel_minute_ms(),
            "speed_up_vs_ffmpeg": self.speed_up(),
            "runs_s": self.runs_s,
        })
    }

    fn print(&self) {
        let beside = match self.speed_up() {
            Some(times) => format!("{times:.1} times as fast as ffmpeg"),
            None => "not compared: there is no ffmpeg on this machine".to_owned(),
        };
        println!(
            "{:<34}{:>6.2} s{:>8.1} ms a minute and channel   {beside}",
            self.name,
            self.ours_s(),
            self.channel_minute_ms()
        );
    }
}

/// What reading files takes.
pub struct Files {
    /// The file of linear samples, then what ffmpeg makes of it, where there is one.
    long: Vec<Long>,
    /// Short files a second.
    short_per_second: f64,
}

impl Files {
    /// The figures as a record, raw runs included.
    pub fn record(&self) -> Value {
        json!({
            "read_5_minutes_96_khz_s": self.long[0].ours_s(),
            "speed_up_vs_ffmpeg": self.long[0].speed_up(),
            "files_per_second": self.short_per_second,
            "long": self.long.iter().map(Long::record).collect::<Vec<_>>(),
        })
    }

    /// For people.
    pub fn print(&self) {
        println!("\nledgerline read beside ffmpeg's ebur128=peak=true\n");
        self.long.iter().for_each(Long::print);
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
    let linear = folder.join("long.wav");
    wav::write(&linear, &repeated(&minute))?;
    let length_s = 60.0 * MINUTES as f64;
    let name = "float WAV, stereo, 96 kHz, 5 min";
    let mut long = vec![Long::new(name, (&program, &linear), (2, length_s), RUNS)?];
    for file in made::FILES {
        let Some(path) = file.make(&linear, &folder)? else { continue };
        let sound = (file.channels, 60.0 * file.minutes as f64);
        long.push(Long::new(file.name, (&program, &path), sound, MADE_RUNS)?);
        fs::remove_file(path)?;
    }
    let short = short_files(&folder, &minute)?;
    let names: Vec<&Path> =
        (0..TIMES_NAMED).flat_map(|_| short.iter().map(PathBuf::as_path)).collect();
    let (seconds, _) = ours(&program, &names)?;
    fs::remove_dir_all(&folder)?;
    Ok(Files { long, short_per_second: names.len() as f64 / seconds })
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

/// Seconds that both sides take for a file, once.
fn run_beside(program: &Path, file: &Path) -> Result<(f64, Option<f64>)> {
    let (ours_s, lufs) = ours(program, &[file])?;
    let Some((peer_s, peer_lufs)) = peer(file)? else { return Ok((ours_s, None)) };
    ensure!(
        (lufs - peer_lufs).abs() <= AGREEMENT_LU,
        "ledgerline reads {lufs:.2} LUFS, ffmpeg {peer_lufs:.2}"
    );
    Ok((ours_s, Some(peer_s)))
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
