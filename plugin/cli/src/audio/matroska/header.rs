//! What stands before the blocks.

use std::fs::File;
use std::io;

use super::ebml::{At, Children, Elements, find, id, unsigned};

/// Tables before the sound; larger ones are not believed.
const MAX_TABLE_BYTES: u64 = 16 << 20;

/// Nanoseconds of a tick, where the file does not say.
const USUAL_SCALE_NS: u64 = 1_000_000;

/// What a file says of its tracks.
#[derive(Debug)]
pub(in crate::audio) struct Header {
    pub(super) scale_ns: u64,
    /// Where the first cluster begins.
    pub(super) clusters_at: u64,
    tracks: Vec<Track>,
}

/// What is said of one.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(in crate::audio) struct Track {
    pub(super) number: u64,
    /// What the codec puts before the sound.
    pub(super) delay_ns: u64,
    /// How long a packet lasts.
    pub(super) packet_ns: u64,
    /// The first bytes of every packet, which stand here alone.
    pub(super) packet_start: Vec<u8>,
    /// Its packets are compressed or encrypted beyond that.
    pub(in crate::audio) is_packed: bool,
}

impl Header {
    /// Reads up to the first cluster, and on where the tracks stand behind; none where none are found.
    pub(in crate::audio) fn read(file: File) -> io::Result<Option<Self>> {
        let mut elements = Elements::new(file)?;
        let mut scale_ns = USUAL_SCALE_NS;
        let mut tracks = None;
        let mut clusters_at = None;
        loop {
            let start = elements.position();
            let At::Element(head) = elements.next()? else { break };
            if head.id == id::SEGMENT {
                continue;
            }
            if head.id == id::CLUSTER {
                clusters_at.get_or_insert(start);
                if tracks.is_some() {
                    break;
                }
            }
            let Some(size) = head.size else { break };
            let end = elements.position().saturating_add(size);
            if matches!(head.id, id::INFO | id::TRACKS) && size <= MAX_TABLE_BYTES {
                let body = elements.body(size)?;
                if head.id == id::TRACKS {
                    let entries = Children::of(&body).filter(|(id, _)| *id == id::TRACK_ENTRY);
                    tracks = Some(entries.map(|(_, body)| track(body)).collect());
                } else if let Some(stated) = find(&body, id::TIMESTAMP_SCALE).and_then(unsigned) {
                    scale_ns = stated;
                }
            }
            elements.go_to(end)?;
        }
        Ok(tracks.zip(clusters_at).map(|(tracks, clusters_at)| Self {
            scale_ns,
            clusters_at,
            tracks,
        }))
    }

    /// The track of that number.
    pub(in crate::audio) fn track(&self, number: u32) -> Option<&Track> {
        self.tracks.iter().find(|track| track.number == u64::from(number))
    }
}

fn track(body: &[u8]) -> Track {
    let stated = |id| find(body, id).and_then(unsigned).unwrap_or(0);
    let encodings = find(body, id::CONTENT_ENCODINGS).unwrap_or_default();
    let mut track = Track {
        number: stated(id::TRACK_NUMBER),
        delay_ns: stated(id::CODEC_DELAY),
        packet_ns: stated(id::DEFAULT_DURATION),
        ..Track::default()
    };
    for (_, encoding) in Children::of(encodings).filter(|(id, _)| *id == id::CONTENT_ENCODING) {
        match packet_start(encoding) {
            Some(start) if track.packet_start.is_empty() => track.packet_start = start.to_vec(),
            _ => track.is_packed = true,
        }
    }
    track
}

/// The bytes of "header stripping", which the standard counts as compression number 3.
fn packet_start(encoding: &[u8]) -> Option<&[u8]> {
    let compression = find(encoding, id::CONTENT_COMPRESSION)?;
    let algorithm = find(compression, id::COMPRESSION_ALGORITHM).and_then(unsigned)?;
    (algorithm == 3).then(|| find(compression, id::COMPRESSION_SETTINGS)).flatten()
}
