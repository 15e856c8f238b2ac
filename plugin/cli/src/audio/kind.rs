//! What a file is, by its first bytes; its name does not count.

use std::fs::File;
use std::io::Read;
use std::path::Path;

/// Kinds of file that are told apart before anything is parsed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// RIFF/WAVE, RIFX, RF64 or BW64: read by our own code where the samples are linear.
    Wave,
    /// ISO base media or QuickTime.
    Mp4,
    /// AIFF, CAF, FLAC, Ogg, Matroska: known by a marker at the start.
    Marked,
    /// No marker: perhaps frames of MPEG audio or ADTS, or a tag in front.
    Unmarked,
    /// Known to hold sound, and not read here.
    Unread(&'static str),
    /// Known to be something else.
    Foreign(&'static str),
}

/// The first bytes of containers that are not read, and what they are called.
const UNREAD: [(&[u8], &str); 16] = [
    (b"riff\x2e\x91\xcf\x11", "a W64 file"),
    (b"\x30\x26\xb2\x75\x8e\x66\xcf\x11", "an ASF (WMA, WMV) file"),
    (b"\x06\x0e\x2b\x34", "an MXF file"),
    (b".snd", "an AU file"),
    (b"DSD ", "a DSF file"),
    (b"FRM8", "a DSDIFF file"),
    (b"wvpk", "a WavPack file"),
    (b"MAC ", "a Monkey's Audio file"),
    (b"TTA1", "a True Audio file"),
    (b"MPCK", "a Musepack file"),
    (b"MP+", "a Musepack file"),
    (b"#!AMR", "an AMR file"),
    (b"FLV\x01", "a Flash video file"),
    (b"\x00\x00\x01\xba", "an MPEG program stream"),
    (b"\x0b\x77", "a bare AC-3 stream"),
    (b"\x7f\xfe\x80\x01", "a bare DTS stream"),
];

/// The first bytes of what holds no sound.
const FOREIGN: [(&[u8], &str); 7] = [
    (b"MThd", "a MIDI file, which holds notes and no sound"),
    (b"%PDF", "a PDF document"),
    (b"PK\x03\x04", "a ZIP archive"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff\xe0", "a picture"),
    (b"GIF8", "a picture"),
];

/// An MPEG transport stream repeats this byte once a packet.
const TRANSPORT_SYNC: u8 = 0x47;
const TRANSPORT_PACKET_BYTES: usize = 188;

impl Kind {
    pub(super) fn of(head: &[u8]) -> Self {
        let word = |at: usize| head.get(at..at + 4).unwrap_or_default();
        match word(0) {
            b"RIFF" | b"RIFX" | b"RF64" | b"BW64" => {
                return match word(8) {
                    b"WAVE" => Self::Wave,
                    b"AVI " => Self::Unread("an AVI file"),
                    _ => Self::Foreign("a RIFF file without sound"),
                };
            }
            b"FORM" if matches!(word(8), b"AIFF" | b"AIFC") => return Self::Marked,
            b"caff" | b"fLaC" | b"OggS" | b"\x1a\x45\xdf\xa3" => return Self::Marked,
            _ => {}
        }
        match word(4) {
            b"ftyp" | b"moov" | b"mdat" | b"wide" | b"free" | b"skip" => return Self::Mp4,
            _ => {}
        }
        if let Some((_, name)) = UNREAD.iter().find(|(bytes, _)| head.starts_with(bytes)) {
            return Self::Unread(name);
        }
        if let Some((_, name)) = FOREIGN.iter().find(|(bytes, _)| head.starts_with(bytes)) {
            return Self::Foreign(name);
        }
        if is_transport_stream(head) {
            return Self::Unread("an MPEG transport stream");
        }
        Self::Unmarked
    }

    /// It cannot be read in one pass.
    pub(super) fn needs_seeking(self, head: &[u8]) -> bool {
        match self {
            Self::Mp4 => true,
            // AIFF and CAF may keep what is needed to decode behind the sound; of Matroska the front is
            // read twice.
            Self::Marked => {
                let starts: [&[u8]; 3] = [b"FORM", b"caff", b"\x1a\x45\xdf\xa3"];
                starts.iter().any(|start| head.starts_with(start))
            }
            _ => false,
        }
    }
}

/// Endings of names that stand for sound which may begin with anything.
const ENDINGS: [&str; 16] = [
    "wav", "wave", "aif", "aiff", "aifc", "flac", "mp3", "mp2", "mp1", "mpa", "m4a", "aac", "ogg",
    "opus", "caf", "w64",
];

/// Whether a file among others is one of sound or a film: by its first bytes, or by its name where
/// it claims to be sound, so that a damaged one is not passed over.
pub(crate) fn is_sound_file(path: &Path) -> bool {
    const HEAD_BYTES: u64 = 1 << 10;
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
    if ending.is_some_and(|ending| ENDINGS.contains(&ending.as_str())) {
        return true;
    }
    let mut head = Vec::new();
    let read = File::open(path).and_then(|file| file.take(HEAD_BYTES).read_to_end(&mut head));
    read.is_ok() && !matches!(Kind::of(&head), Kind::Unmarked | Kind::Foreign(_))
}

fn is_transport_stream(head: &[u8]) -> bool {
    (0..4).all(|packet| head.get(packet * TRANSPORT_PACKET_BYTES) == Some(&TRANSPORT_SYNC))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_are_known_by_their_first_bytes() {
        assert_eq!(Kind::of(b"RF64\xff\xff\xff\xffWAVEds64"), Kind::Wave);
        assert_eq!(Kind::of(b"RIFF\x00\x00\x00\x00AVI LIST"), Kind::Unread("an AVI file"));
        assert_eq!(Kind::of(b"\x00\x00\x00\x20ftypisom"), Kind::Mp4);
        assert_eq!(Kind::of(b"OggS"), Kind::Marked);
        assert_eq!(Kind::of(b"\xff\xfb\x90\x00"), Kind::Unmarked);
        assert_eq!(Kind::of(b""), Kind::Unmarked);
    }
}
