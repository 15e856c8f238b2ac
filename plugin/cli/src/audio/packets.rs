//! Coded packets of one track, from whichever reader knows the container.

use std::io::ErrorKind;

use symphonia::core::errors::Error;
use symphonia::core::formats::FormatReader;

use super::contain::contain;
use super::error::Fault;
use super::matroska;
use super::mp4;
use super::next::Next;

/// A container that goes on failing without a packet is at its end.
const MAX_FAILURES_IN_A_ROW: u32 = 1000;

/// Where packets come from.
pub(super) enum Packets {
    /// The library's reader of the container, and the track's number there.
    Library { reader: Box<dyn FormatReader>, track: u32, failures_in_a_row: u32 },
    /// The tables of an MP4 file.
    Mp4(mp4::Samples),
    /// The blocks of a Matroska file.
    Matroska(matroska::Blocks),
}

impl Packets {
    pub(super) fn of_library(reader: Box<dyn FormatReader>, track: u32) -> Self {
        Self::Library { reader, track, failures_in_a_row: 0 }
    }

    pub(super) fn next(&mut self) -> Result<Next, Fault> {
        match self {
            Self::Library { reader, track, failures_in_a_row } => {
                library_next(reader.as_mut(), *track, failures_in_a_row)
            }
            Self::Mp4(samples) => match samples.next() {
                Ok(Some(packet)) => Ok(Next::Packet(packet)),
                Ok(None) => Ok(Next::End),
                Err(error) if error.kind() == ErrorKind::UnexpectedEof => Ok(Next::BreaksOff),
                Err(error) => Err(Fault::Unreadable(error)),
            },
            Self::Matroska(blocks) => blocks.next().map_err(Fault::Unreadable),
        }
    }
}

fn library_next(
    reader: &mut dyn FormatReader,
    track: u32,
    failures_in_a_row: &mut u32,
) -> Result<Next, Fault> {
    loop {
        let Ok(result) = contain(|| reader.next_packet()) else { return Ok(Next::BreaksOff) };
        let failures = std::mem::take(failures_in_a_row);
        match result {
            Ok(Some(packet)) if packet.track_id == track => return Ok(Next::Packet(packet)),
            Ok(Some(_)) => {}
            Ok(None) => return Ok(if failures > 0 { Next::BreaksOff } else { Next::End }),
            Err(Error::ResetRequired) => return Ok(Next::Reset),
            Err(Error::IoError(error)) if error.kind() == ErrorKind::UnexpectedEof => {
                return Ok(Next::BreaksOff);
            }
            Err(Error::IoError(error)) if is_real(&error) => return Err(Fault::Unreadable(error)),
            Err(_) if failures >= MAX_FAILURES_IN_A_ROW => return Ok(Next::BreaksOff),
            Err(_) => {
                *failures_in_a_row = failures + 1;
                return Ok(Next::Damaged);
            }
        }
    }
}

/// The system's own error, and not one that a parser made up about the file's content.
fn is_real(error: &std::io::Error) -> bool {
    error.raw_os_error().is_some()
}
