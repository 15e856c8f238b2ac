//! Memory that an instance's measures take.

use ledgerline_measure::{Meter, Settings};

/// Instances made; one alone would drown in the allocator's rounding.
const INSTANCES: usize = 8;

/// Resident memory of one meter after a second of audio at 96 kHz, in MB; `None` where the system
/// does not say.
pub fn of_an_instance() -> Option<f64> {
    let before = resident_mb()?;
    let second = vec![0.1; 96_000];
    let mut meters = Vec::new();
    for _ in 0..INSTANCES {
        let mut meter = Meter::new(96_000.0, 2, 0, Settings::default()).ok()?;
        meter.process(&[&second, &second], &[]);
        meters.push(meter);
    }
    Some((resident_mb()? - before) / meters.len() as f64)
}

/// Linux tells it in /proc; elsewhere it stays unknown.
fn resident_mb() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
    let kilobytes: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kilobytes * 1024.0 / 1e6)
}
