//! What a hundred instances cost while nothing happens, beside the audio threads: the threads that
//! the built plugin starts, on the system's own count of their processor time.

use std::path::Path;
use std::time::{Duration, Instant};

use anyhow::Result;
use ledgerline_tests::hosts::{ClapHost, Host, Layout, Setup, Take};

/// Instances.
const INSTANCES: usize = 100;
/// How long each case is watched.
const WATCHED: Duration = Duration::from_secs(8);
/// How much silence an instance is given at once.
const CHUNK: Duration = Duration::from_millis(500);
/// Sample rate, in Hz.
const RATE_HZ: usize = 48_000;

/// What was seen.
pub struct Idle {
    /// Threads of the plugin and its framework.
    pub threads: usize,
    /// Share of a core while the host does not process.
    pub stopped_share: f64,
    /// Share of a core, audio threads apart, while it processes silence.
    pub silence_share: f64,
}

/// Watches instances of a CLAP bundle; `None` where the system does not tell.
///
/// # Errors
///
/// When the plugin fails.
pub fn watch(bundle: &Path) -> Result<Option<Idle>> {
    let Some(before) = threads() else {
        return Ok(None);
    };
    let mut hosts = Vec::new();
    for _ in 0..INSTANCES {
        let mut host = ClapHost::load(bundle)?;
        host.activate(Setup::new(RATE_HZ as f64, Layout::Stereo))?;
        hosts.push(host);
    }
    let silence_share = share(|| silence(&mut hosts))?;
    // The rounds calm down.
    std::thread::sleep(Duration::from_secs(2));
    let stopped_share = share(|| {
        std::thread::sleep(WATCHED);
        Ok(())
    })?;
    let threads = threads().unwrap_or(before) - before;
    Ok(Some(Idle { threads, stopped_share, silence_share }))
}

/// Gives every instance silence, as fast as it would come.
fn silence(hosts: &mut [ClapHost]) -> Result<()> {
    let frames = (CHUNK.as_secs_f64() * RATE_HZ as f64) as usize;
    let silence = vec![vec![0.0; frames]; 2];
    let start = Instant::now();
    let mut due = Duration::ZERO;
    while due < WATCHED {
        for host in &mut *hosts {
            host.play(&Take::new(&silence))?;
        }
        due += CHUNK;
        std::thread::sleep(due.saturating_sub(start.elapsed()));
    }
    Ok(())
}

/// Processor time of the plugin's threads while something happens, by wall time.
fn share(happens: impl FnOnce() -> Result<()>) -> Result<f64> {
    let (start, before_ns) = (Instant::now(), plugin_ns());
    happens()?;
    Ok((plugin_ns() - before_ns) / 1e9 / start.elapsed().as_secs_f64())
}

/// Threads of this process, where Linux lists them.
fn threads() -> Option<usize> {
    Some(std::fs::read_dir("/proc/self/task").ok()?.count())
}

/// Processor time so far of the threads that the plugin has started, in nanoseconds.
fn plugin_ns() -> f64 {
    let tasks = std::fs::read_dir("/proc/self/task").into_iter().flatten().flatten();
    let of_plugin = tasks.map(|task| task.path()).filter(|task| {
        std::fs::read_to_string(task.join("comm")).is_ok_and(|name| name.starts_with("ledgerline"))
    });
    let time_ns = |task: std::path::PathBuf| -> Option<f64> {
        let text = std::fs::read_to_string(task.join("schedstat")).ok()?;
        text.split_whitespace().next()?.parse().ok()
    };
    of_plugin.filter_map(time_ns).sum()
}
