//! Reads damaged files, many of them, and watches the reader: no panic, no hang, no memory taken
//! because a header says so.
//!
//! The files are made from the small ones in `tests/seeds`, which `tests/make_seeds.sh` makes, by
//! [`mutate`]; the same number gives the same file on every machine. Memory is watched as the
//! resident set of the process, as the system counts it: what a header makes a program reserve but
//! never touch does no harm.

mod memory;
mod watch;

use std::fs;
use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

use ledgerline_cli::audio::{AudioFile, Choice, Input};

use crate::mutate::mutate;
use watch::Watch;

/// What a file may take. The seeds have at most some twenty thousand bytes, which take milliseconds;
/// the rest is for a machine that does other work meanwhile.
const MOST_TIME: Duration = Duration::from_secs(10);

/// Blocks that a file may give for each of its bytes, and in any case: whatever loops without end
/// passes this.
const MOST_BLOCKS: (u64, u64) = (8, 10_000);

/// What to do.
#[derive(Debug, Clone)]
pub struct Plan {
    /// How many files.
    pub inputs: u64,
    /// Which files: another number gives others.
    pub seed: u64,
    /// How many at once.
    pub threads: usize,
}

/// What came of it.
#[derive(Debug, Default)]
pub struct Report {
    /// Files that were tried.
    pub inputs: u64,
    /// Files of which some sound was read.
    pub read: u64,
    /// Files that were refused with an error.
    pub refused: u64,
    /// The longest time for one file, in seconds.
    pub slowest_s: f64,
    /// Which file that was.
    pub slowest: String,
    /// The most resident memory above what the process had at first, in bytes; none where the
    /// system does not say.
    pub grown_bytes: Option<u64>,
    /// What went wrong, a line each.
    pub failures: Vec<String>,
}

/// A seed and its name.
struct Seed {
    name: String,
    bytes: Vec<u8>,
}

/// Reads so many damaged files.
///
/// # Errors
///
/// When the seeds cannot be read, or no file can be written.
pub fn run(plan: &Plan) -> io::Result<Report> {
    let seeds = Arc::new(seeds()?);
    let folder = std::env::temp_dir().join(format!("ledgerline-fuzz-{}", std::process::id()));
    fs::create_dir_all(&folder)?;
    let watch = Arc::new(Watch::new(plan.threads, plan.inputs));
    for worker in 0..plan.threads {
        let (seeds, watch, plan) = (seeds.clone(), watch.clone(), plan.clone());
        let path = folder.join(format!("{worker}"));
        std::thread::spawn(move || work(&seeds, &watch, &plan, worker, &path));
    }
    let report = watch.until_done();
    // A thread that hangs may still hold its file.
    let _ = fs::remove_dir_all(&folder);
    Ok(report)
}

/// The damaged file of that number, and what it was made from.
fn input(seeds: &[Seed], plan_seed: u64, number: u64) -> (&Seed, Vec<u8>) {
    let seed = &seeds[(number % seeds.len() as u64) as usize];
    (seed, mutate(&seed.bytes, number ^ plan_seed.rotate_left(32)))
}

fn work(seeds: &[Seed], watch: &Watch, plan: &Plan, worker: usize, path: &Path) {
    while let Some(number) = watch.next(worker) {
        let (seed, bytes) = input(seeds, plan.seed, number);
        let about = format!("input {number} of seed {}, from {}", plan.seed, seed.name);
        watch.begin(worker, about.clone());
        if let Err(error) = fs::write(path, &bytes) {
            watch.fail(format!("{about}: it cannot be written: {error}"));
            continue;
        }
        let started = Instant::now();
        let result = catch_unwind(AssertUnwindSafe(|| read(path, number, bytes.len() as u64)));
        match result {
            Ok(Ok(sound)) => watch.end(worker, sound, started.elapsed(), about),
            Ok(Err(what)) => watch.fail(format!("{about}: {what}")),
            Err(_) => watch.fail(format!("{about}: it panicked")),
        }
    }
}

/// Reads a file to its end; whether there was sound in it. An error to the user is as good an end
/// as any, as long as it names the file.
fn read(path: &Path, number: u64, bytes: u64) -> Result<bool, String> {
    let track = (number % 7 == 3).then_some(2);
    let choice = Choice { track, own_decoders_only: true };
    let name = path.display().to_string();
    let refused = |error: ledgerline_cli::audio::AudioError| {
        let text = error.to_string();
        if text.contains(&name) { Ok(false) } else { Err(format!("an error without name: {text}")) }
    };
    let mut file = match AudioFile::open(&Input::Path(path.to_owned()), choice) {
        Ok(file) => file,
        Err(error) => return refused(error),
    };
    let channels = file.info().channels;
    if channels == 0 || file.info().roles.len() != channels || file.info().sample_rate_hz == 0 {
        return Err(format!("nonsense was opened: {:?}", file.info()));
    }
    let mut block = Vec::new();
    let mut blocks = 0;
    loop {
        match file.read_f32(&mut block) {
            Ok(true) => {}
            Ok(false) => return Ok(blocks > 0),
            Err(error) => return refused(error),
        }
        blocks += 1;
        let even = block.iter().all(|channel| channel.len() == block[0].len());
        if block.len() != channels || !even || block[0].is_empty() {
            return Err("a block of another shape than promised".to_owned());
        }
        if blocks > MOST_BLOCKS.0 * bytes + MOST_BLOCKS.1 {
            return Err(format!("more than {blocks} blocks from {bytes} bytes"));
        }
    }
}

fn seeds() -> io::Result<Vec<Seed>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("seeds");
    let mut paths: Vec<PathBuf> =
        fs::read_dir(folder)?.map(|entry| Ok(entry?.path())).collect::<io::Result<_>>()?;
    // The order of a folder differs between machines.
    paths.sort();
    paths
        .into_iter()
        .map(|path| {
            let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            Ok(Seed { name, bytes: fs::read(path)? })
        })
        .collect()
}
