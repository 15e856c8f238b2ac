//! How much memory the process really holds.

/// Resident memory in bytes; none where the system does not say it in `/proc`.
pub(super) fn resident_bytes() -> Option<u64> {
    const UNIT_BYTES: u64 = 1024;
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"))?;
    Some(line.trim().trim_end_matches(" kB").parse::<u64>().ok()? * UNIT_BYTES)
}
