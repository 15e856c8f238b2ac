//! The header of the RIFF family: WAVE, the same with the highest byte first (RIFX), RF64 (EBU Tech
//! 3306) and BW64 (ITU-R BS.2088).
//!
//! Read here and not by the library, which does not know the 64-bit sizes of RF64 and BW64 and
//! hands linear samples out in small packets. Everything before the samples is read in one pass, so
//! that standard input needs no seeking.

mod format;
mod order;
mod tag;

use std::io::{self, Read};

use super::error::Fault;
use super::source::Reader;
pub(super) use format::{Coding, Format};
use order::Order;
pub(super) use tag::{coded_tag, tag_is_decoded, tag_name};

/// In a 32-bit size: the true one stands in the `ds64` chunk, or is not known.
const SEE_DS64: u32 = u32::MAX;

/// What the header says; the reader stands at the first sample.
#[derive(Debug)]
pub(super) struct Header {
    /// "WAV", "RIFX", "RF64" or "BW64".
    pub(super) container: &'static str,
    pub(super) format: Format,
    /// Bytes of samples that the header promises; none where it leaves that open.
    pub(super) promised_bytes: Option<u64>,
    /// Bytes of samples to read: what is promised, or less where the file ends before.
    pub(super) available_bytes: Option<u64>,
    /// What was odd about it.
    pub(super) warnings: Vec<String>,
}

/// The sizes of a `ds64` chunk.
struct Sizes64 {
    data_bytes: u64,
}

/// Reads up to the first sample.
pub(super) fn read(reader: &mut Reader) -> Result<Header, Fault> {
    let mut start = [0; 12];
    let mut position = fill(reader, &mut start)? as u64;
    if position < 12 {
        return Err(broken("it breaks off in the first bytes"));
    }
    let container = match &start[..4] {
        b"RIFX" => "RIFX",
        b"RF64" => "RF64",
        b"BW64" => "BW64",
        _ => "WAV",
    };
    let order = Order::of(&start);
    let riff_bytes = order.word(&start, 4);
    let mut sizes = None;
    let mut format = None;
    loop {
        let mut head = [0; 8];
        if fill(reader, &mut head)? < 8 {
            return Err(broken(match format {
                None => "it has no format chunk",
                Some(_) => "it has no data chunk, hence no sound",
            }));
        }
        position += 8;
        let size = order.word(&head, 4);
        let (mut wanted, is_data) = match &head[..4] {
            b"ds64" => (28, false),
            b"fmt " => (size.min(64), false),
            b"data" => (0, true),
            _ => (0, false),
        };
        if is_data {
            let format: Format =
                format.ok_or_else(|| broken("the samples come before their format"))?;
            let place = Data { position, size, riff_bytes, length: reader.length(), sizes };
            return Ok(place.header(container, format));
        }
        wanted = wanted.min(size);
        let mut body = vec![0; wanted as usize];
        if fill(reader, &mut body)? < body.len() {
            return Err(broken("it breaks off before the samples"));
        }
        match &head[..4] {
            b"ds64" => sizes = read_ds64(&body),
            b"fmt " => format = Some(Format::parse(&body, order)?),
            _ => {}
        }
        // A chunk of an odd size is followed by a byte that its size does not count.
        let whole = u64::from(size) + u64::from(size & 1);
        reader.skip(whole - u64::from(wanted)).map_err(Fault::Unreadable)?;
        position += whole;
    }
}

/// Where the samples are, and what three places say about how many there are.
struct Data {
    position: u64,
    size: u32,
    riff_bytes: u32,
    length: Option<u64>,
    sizes: Option<Sizes64>,
}

impl Data {
    fn header(self, container: &'static str, format: Format) -> Header {
        let mut warnings = Vec::new();
        let rest = self.length.map(|length| length.saturating_sub(self.position));
        let promised_bytes = self.promised(rest, &mut warnings);
        let available_bytes = match (promised_bytes, rest) {
            (Some(promised), Some(rest)) => Some(promised.min(rest)),
            (promised, rest) => rest.or(promised),
        };
        Header { container, format, promised_bytes, available_bytes, warnings }
    }

    fn promised(&self, rest: Option<u64>, warnings: &mut Vec<String>) -> Option<u64> {
        const OPEN: &str = "The header was never finished: it does not say how long the sound is. \
                            Everything up to the end of the file was read.";
        match (self.size, &self.sizes) {
            (SEE_DS64, Some(sizes)) if sizes.data_bytes > 0 => Some(sizes.data_bytes),
            (SEE_DS64, _) => {
                // A program that writes to a pipe cannot come back to fill the size in, and whoever
                // reads a pipe knows it.
                if rest.is_some() {
                    warnings.push(OPEN.to_owned());
                }
                None
            }
            (0, _) if self.riff_bytes as u64 <= self.position && rest != Some(0) => {
                if rest.is_some() {
                    warnings.push(OPEN.to_owned());
                }
                None
            }
            (size, _) => Some(self.unwrapped(u64::from(size), rest, warnings)),
        }
    }

    /// A recorder that passed 4 GiB without noticing wrote both sizes modulo 2^32: then the file is
    /// longer than its RIFF size by a multiple of that.
    fn unwrapped(&self, size: u64, rest: Option<u64>, warnings: &mut Vec<String>) -> u64 {
        const WRAP: u64 = 1 << 32;
        let Some(length) = self.length else { return size };
        let said = u64::from(self.riff_bytes) + 8;
        let missing = length.saturating_sub(said);
        let wrapped = size + missing;
        if self.riff_bytes == SEE_DS64 || missing < WRAP || missing % WRAP > 1 {
            return size;
        }
        warnings.push(
            "The file is longer than the 4 GiB that its header can state. Everything up to the end \
             was read."
                .to_owned(),
        );
        wrapped.min(rest.unwrap_or(wrapped))
    }
}

/// RIFF size, data size and sample count, of 64 bits each, then a table of other chunks' sizes.
fn read_ds64(body: &[u8]) -> Option<Sizes64> {
    let data = body.get(8..16)?;
    Some(Sizes64 { data_bytes: u64::from_le_bytes(data.try_into().ok()?) })
}

/// Reads until the buffer is full or the source ends; how much was read.
fn fill(reader: &mut Reader, buffer: &mut [u8]) -> Result<usize, Fault> {
    let mut filled = 0;
    while filled < buffer.len() {
        match reader.read(&mut buffer[filled..]) {
            Ok(0) => break,
            Ok(count) => filled += count,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(Fault::Unreadable(error)),
        }
    }
    Ok(filled)
}

fn broken(what: &str) -> Fault {
    Fault::BadHeader(what.to_owned())
}
