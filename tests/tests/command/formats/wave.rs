//! The RIFF family, written here byte by byte: what a header may say, and how it may lie.

use ledgerline_cli::audio::{AudioFile, Input};
use ledgerline_measure::ChannelRole::{Center, Left, LowFrequency, Other, Right, Surround};

use super::words::{Signal, Words};
use super::{read, refused};
use ledgerline_tests::folder::Folder;

const FRAMES: usize = 1_000;

/// A format chunk; `mask` makes it WAVE_FORMAT_EXTENSIBLE.
fn format(words: Words, channels: u16, rate_hz: u32, mask: Option<u32>) -> Vec<u8> {
    let bits = words.bits() as u16;
    let tag: u16 = if words.is_float() { 3 } else { 1 };
    let frame_bytes = channels.wrapping_mul(bits / 8);
    let mut body = Vec::new();
    body.extend(if mask.is_some() { 0xFFFE } else { tag }.to_le_bytes());
    body.extend(channels.to_le_bytes());
    body.extend(rate_hz.to_le_bytes());
    body.extend(rate_hz.wrapping_mul(u32::from(frame_bytes)).to_le_bytes());
    body.extend(frame_bytes.to_le_bytes());
    body.extend(bits.to_le_bytes());
    if let Some(mask) = mask {
        body.extend([22, 0]);
        body.extend(bits.to_le_bytes());
        body.extend(mask.to_le_bytes());
        body.extend(tag.to_le_bytes());
        body.extend([0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71]);
    }
    body
}

fn chunk(name: &[u8; 4], size: u32, body: &[u8]) -> Vec<u8> {
    let mut chunk = [&name[..], &size.to_le_bytes(), body].concat();
    if body.len() % 2 == 1 {
        chunk.push(0);
    }
    chunk
}

fn whole(name: &[u8; 4], body: &[u8]) -> Vec<u8> {
    chunk(name, body.len() as u32, body)
}

fn riff(magic: &[u8; 4], size: u32, chunks: &[Vec<u8>]) -> Vec<u8> {
    [&magic[..], &size.to_le_bytes(), b"WAVE", &chunks.concat()].concat()
}

/// A `ds64` chunk.
fn sizes(riff_bytes: u64, data_bytes: u64, frames: u64) -> Vec<u8> {
    let numbers = [riff_bytes, data_bytes, frames].map(u64::to_le_bytes).concat();
    whole(b"ds64", &[numbers, vec![0; 4]].concat())
}

#[test]
fn every_member_of_the_family_gives_the_samples_that_were_put_in() {
    let folder = Folder::new("formats-family");
    let signal = Signal::new(Words::S24, 2, FRAMES);
    let (data, fmt) = (&signal.raw, whole(b"fmt ", &format(Words::S24, 2, 96_000, None)));
    let open = u32::MAX;
    let ds64 = sizes(data.len() as u64 + 80, data.len() as u64, FRAMES as u64);
    let odd = whole(b"LIST", b"odd");
    let files = [
        ("WAV", riff(b"RIFF", 0, &[fmt.clone(), odd.clone(), whole(b"data", data), odd.clone()])),
        (
            "RF64",
            riff(
                b"RF64",
                open,
                &[ds64.clone(), fmt.clone(), chunk(b"data", open, data), odd.clone()],
            ),
        ),
        (
            "BW64",
            riff(b"BW64", open, &[ds64.clone(), fmt.clone(), chunk(b"data", open, data), odd]),
        ),
    ];
    for (container, bytes) in files {
        let sound = read(&folder.file("file", &bytes), None);
        assert_eq!(sound.channels, signal.channels, "{container}");
        assert_eq!(sound.info.format, container);
        assert_eq!(sound.info.frames, Some(FRAMES as u64), "{container}");
        assert_eq!(sound.warnings, Vec::<String>::new(), "{container}");
    }
}

#[test]
fn every_word_length_is_exact() {
    let folder = Folder::new("formats-lengths");
    for words in [Words::U8, Words::S16, Words::S24, Words::S32, Words::F32, Words::F64] {
        let signal = Signal::new(words, 3, FRAMES);
        let fmt = whole(b"fmt ", &format(words, 3, 44_100, Some(0b111)));
        let bytes = riff(b"RIFF", 0, &[fmt, whole(b"data", &signal.raw)]);
        let sound = read(&folder.file("file", &bytes), None);
        assert_eq!(sound.channels, signal.channels, "{words:?}");
        assert_eq!(sound.info.bits, Some(words.bits()));
        assert_eq!(sound.info.roles, [Left, Right, Center]);
    }
}

#[test]
fn the_channel_mask_gives_the_roles() {
    let folder = Folder::new("formats-mask");
    let cases: [(Option<u32>, u16, Vec<_>); 6] = [
        (None, 2, vec![Left, Right]),
        (None, 6, vec![Left, Right, Center, LowFrequency, Surround, Surround]),
        (Some(0x3F), 6, vec![Left, Right, Center, LowFrequency, Surround, Surround]),
        (Some(0x60F), 6, vec![Left, Right, Center, LowFrequency, Surround, Surround]),
        (Some(0x63F), 8, vec![Left, Right, Center, LowFrequency, Other, Other, Surround, Surround]),
        (None, 64, vec![Other; 64]),
    ];
    for (mask, channels, roles) in cases {
        let signal = Signal::new(Words::S16, usize::from(channels), 100);
        let fmt = whole(b"fmt ", &format(Words::S16, channels, 48_000, mask));
        let bytes = riff(b"RIFF", 0, &[fmt, whole(b"data", &signal.raw)]);
        let sound = read(&folder.file("file", &bytes), None);
        assert_eq!((sound.info.roles, sound.channels), (roles, signal.channels), "{mask:?}");
    }
}

#[test]
fn sizes_that_lie_are_told_and_what_is_there_is_read() {
    let folder = Folder::new("formats-lies");
    let signal = Signal::new(Words::S16, 2, FRAMES);
    let fmt = whole(b"fmt ", &format(Words::S16, 2, 48_000, None));
    let data = |size| chunk(b"data", size, &signal.raw);
    let huge = sizes(1 << 60, 1 << 60, 1 << 58);
    let cases = [
        ("promises 11184.811 s", riff(b"RIFF", 4_000_000, &[fmt.clone(), data(0x7FFF_FFFF)])),
        ("never finished", riff(b"RIFF", u32::MAX, &[fmt.clone(), data(u32::MAX)])),
        ("never finished", riff(b"RIFF", 0, &[fmt.clone(), data(0)])),
        ("breaks off after 20.83 ms", riff(b"RF64", u32::MAX, &[huge, fmt, data(u32::MAX)])),
    ];
    for (told, bytes) in cases {
        let sound = read(&folder.file("file", &bytes), None);
        assert_eq!(sound.channels, signal.channels, "{told}");
        assert!(
            sound.warnings.len() == 1 && sound.warnings[0].contains(told),
            "{:?}",
            sound.warnings
        );
    }
}

#[test]
fn no_channels_no_rate_and_too_many_channels_are_refused() {
    let folder = Folder::new("formats-none");
    for (channels, rate_hz, told) in [
        (0, 48_000, "states no channels"),
        (2, 0, "states no sample rate"),
        (65, 48_000, "has 65 channels, and at most 64 are read"),
    ] {
        let fmt = whole(b"fmt ", &format(Words::S16, channels, rate_hz, None));
        let bytes = riff(b"RIFF", 0, &[fmt, whole(b"data", &[0; 260])]);
        let error = refused(&folder.file("file.wav", &bytes), None);
        assert!(error.contains("file.wav") && error.contains(told), "{error}");
    }
}

/// The files are sparse: they take no room on the disk, and of the sound only the start is read.
#[test]
fn more_than_4_gib_are_known_from_ds64_and_from_the_files_length() {
    const DATA_BYTES: u64 = 5 << 30;
    let folder = Folder::new("formats-large");
    let fmt = whole(b"fmt ", &format(Words::S16, 2, 48_000, None));
    let ds64 = sizes(DATA_BYTES + 80, DATA_BYTES, DATA_BYTES / 4);
    let rf64 = riff(b"RF64", u32::MAX, &[ds64, fmt.clone(), chunk(b"data", u32::MAX, b"")]);
    // Both sizes modulo 2^32, as a recorder writes them that does not look.
    let wrapped = (DATA_BYTES % (1 << 32)) as u32;
    let riff = riff(b"RIFF", wrapped + 36, &[fmt, chunk(b"data", wrapped, b"")]);
    for (name, head, warnings) in [("rf64", rf64, 0), ("riff", riff, 1)] {
        let path = folder.file(name, &head);
        let file = std::fs::File::options().write(true).open(&path).expect("the file");
        file.set_len(head.len() as u64 + DATA_BYTES).expect("a sparse file");
        let mut file = AudioFile::open(&Input::Path(path), None).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(file.info().frames, Some(DATA_BYTES / 4), "{name}");
        assert_eq!(file.warnings().len(), warnings, "{name}: {:?}", file.warnings());
        let mut block = Vec::new();
        assert!(file.read_f32(&mut block).unwrap_or_else(|e| panic!("{e}")), "{name}");
    }
}
