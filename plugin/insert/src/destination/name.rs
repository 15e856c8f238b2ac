//! The name of a file before its ending: `ledgerline-<UTC time>-<process>-<instance>`. The three
//! together are unique on a machine, and names sort by time.

use std::sync::atomic::{AtomicU32, Ordering};

use time::OffsetDateTime;

/// The next instance's number, from 1 in each process.
pub(crate) fn next_instance() -> u32 {
    static INSTANCES: AtomicU32 = AtomicU32::new(1);
    INSTANCES.fetch_add(1, Ordering::Relaxed)
}

/// The name of a file that an instance of this process begins now.
pub(crate) fn now(instance: u32) -> String {
    name(OffsetDateTime::now_utc(), std::process::id(), instance)
}

/// The time as records carry it: RFC 3339, to a millisecond.
pub(crate) fn utc_now() -> String {
    utc(OffsetDateTime::now_utc())
}

fn utc(at: OffsetDateTime) -> String {
    let (year, month, day) = (at.year(), u8::from(at.month()), at.day());
    let (hour, minute, second, milli) = at.to_hms_milli();
    format!("{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}.{milli:03}Z")
}

fn name(at: OffsetDateTime, process: u32, instance: u32) -> String {
    let (year, month, day) = (at.year(), u8::from(at.month()), at.day());
    let (hour, minute, second) = at.to_hms();
    format!(
        "ledgerline-{year:04}{month:02}{day:02}T{hour:02}{minute:02}{second:02}Z-{process}-{instance}"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_name_carries_time_process_and_instance() {
        let at = OffsetDateTime::from_unix_timestamp(1_700_000_000).unwrap();
        assert_eq!(name(at, 42, 7), "ledgerline-20231114T221320Z-42-7");
        assert_eq!(utc(at), "2023-11-14T22:13:20.000Z");
    }
}
