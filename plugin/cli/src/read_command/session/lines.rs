//! Lines of JSON, one after the other, whatever the file holds.

use std::io::{BufRead, BufReader, Read, Result};

use serde_json::Value;

/// Longer lines than this are none of ours.
const MOST_BYTES: usize = 1 << 20;

/// A line.
pub(super) enum Line {
    /// An object.
    Whole(Value),
    /// Something else, or longer than any line of ours.
    Damaged,
    /// The last one, without its end.
    Torn,
}

/// A file of lines.
pub(super) struct Lines<R> {
    reader: BufReader<R>,
    line: Vec<u8>,
}

impl<R: Read> Lines<R> {
    /// From the first byte on.
    pub(super) fn new(source: R) -> Self {
        Self { reader: BufReader::new(source), line: Vec::new() }
    }

    /// The next line that is not empty; none at the end.
    ///
    /// # Errors
    ///
    /// When the file cannot be read any further.
    pub(super) fn next(&mut self) -> Result<Option<Line>> {
        loop {
            self.line.clear();
            let mut limited = (&mut self.reader).take(MOST_BYTES as u64);
            if limited.read_until(b'\n', &mut self.line)? == 0 {
                return Ok(None);
            }
            let is_ended = self.line.ends_with(b"\n");
            if !is_ended && self.line.len() == MOST_BYTES {
                self.reader.skip_until(b'\n')?;
                return Ok(Some(Line::Damaged));
            }
            if self.line.iter().all(u8::is_ascii_whitespace) {
                continue;
            }
            return Ok(Some(match serde_json::from_slice(&self.line) {
                Ok(line @ Value::Object(_)) => Line::Whole(line),
                _ if is_ended => Line::Damaged,
                _ => Line::Torn,
            }));
        }
    }
}
