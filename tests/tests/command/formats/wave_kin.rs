//! What a WAVE file is seldom: the highest byte first, more than 32 bits, telephony's two curves.

use std::path::Path;

use super::tools::{by_ffmpeg, decoded_by_ffmpeg, run, text};
use super::words::{Signal, Words};
use super::{Sound, read};
use ledgerline_tests::folder::Folder;

/// How numbers are written.
#[derive(Clone, Copy)]
struct Order {
    high_first: bool,
}

impl Order {
    fn half(self, number: u16) -> [u8; 2] {
        if self.high_first { number.to_be_bytes() } else { number.to_le_bytes() }
    }

    fn word(self, number: u32) -> [u8; 4] {
        if self.high_first { number.to_be_bytes() } else { number.to_le_bytes() }
    }

    /// The lowest bytes of a number.
    fn sample(self, number: i64, bytes: usize) -> Vec<u8> {
        let mut low_first = number.to_le_bytes()[..bytes].to_vec();
        if self.high_first {
            low_first.reverse();
        }
        low_first
    }

    /// A file of one channel at 48 kHz.
    fn file(self, tag: u16, bits: u16, extended: bool, data: &[u8]) -> Vec<u8> {
        let frame_bytes = bits / 8;
        let mut format = Vec::new();
        format.extend(self.half(if extended { 0xFFFE } else { tag }));
        format.extend(self.half(1));
        format.extend(self.word(48_000));
        format.extend(self.word(48_000 * u32::from(frame_bytes)));
        format.extend(self.half(frame_bytes));
        format.extend(self.half(bits));
        if extended {
            format.extend(self.half(22));
            format.extend(self.half(bits));
            format.extend(self.word(4));
            format.extend(self.word(u32::from(tag)));
            format.extend(self.half(0));
            format.extend(self.half(0x10));
            format.extend([0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71]);
        }
        let chunk = |name: &[u8; 4], body: &[u8]| {
            [&name[..], &self.word(body.len() as u32), body, &vec![0; body.len() % 2]].concat()
        };
        let chunks = [chunk(b"fmt ", &format), chunk(b"data", data)].concat();
        let name = if self.high_first { b"RIFX" } else { b"RIFF" };
        [&name[..], &self.word(chunks.len() as u32 + 4), b"WAVE", &chunks].concat()
    }
}

const ORDERS: [Order; 2] = [Order { high_first: false }, Order { high_first: true }];

fn told(sound: &Sound) -> (&str, &str, Option<u32>) {
    (&sound.info.format, &sound.info.codec, sound.info.bits)
}

#[test]
fn integers_of_every_length_are_read_in_both_orders() {
    let folder = Folder::new("formats-kin-integers");
    for order in ORDERS {
        for bits in [16, 24, 32, 40, 48, 56, 64] {
            let full = 1i64 << (bits - 1).min(62);
            let steps = [0, 1, -1, full / 2, -full / 2, full / 3, full - 1];
            let data: Vec<u8> =
                steps.iter().flat_map(|step| order.sample(*step, bits / 8)).collect();
            for extended in [false, true] {
                let bytes = order.file(1, bits as u16, extended, &data);
                let sound = read(&folder.file("file", &bytes), None);
                let scale = 2f64.powi(bits as i32 - 1);
                let expected = steps.map(|step| step as f64 / scale);
                assert_eq!(sound.channels, [expected], "{bits} bits");
                let format = if order.high_first { "RIFX" } else { "WAV" };
                let codec = format!("PCM, {bits} bit");
                assert_eq!(told(&sound), (format, codec.as_str(), Some(bits as u32)));
                assert!(sound.warnings.is_empty(), "{:?}", sound.warnings);
            }
        }
    }
}

#[test]
fn floats_with_the_highest_byte_first_are_read() {
    let folder = Folder::new("formats-kin-floats");
    let samples = [0.0f32, 0.25, -1.5, 1.0];
    let data: Vec<u8> = samples.iter().flat_map(|sample| sample.to_be_bytes()).collect();
    let bytes = ORDERS[1].file(3, 32, false, &data);
    let sound = read(&folder.file("file", &bytes), None);
    assert_eq!(sound.channels, [samples.map(f64::from)]);
    assert_eq!(told(&sound), ("RIFX", "PCM, 32 bit float", Some(32)));
}

#[test]
fn both_curves_are_read_with_an_extended_format_chunk_and_without() {
    let folder = Folder::new("formats-kin-curves");
    // The loudest and the quietest of each sign, by the tables of ITU-T G.711.
    let a_law = [0xAA, 0x2A, 0xD5, 0x55];
    let mu_law = [0x80, 0x00, 0xFE, 0x7E];
    for order in ORDERS {
        for (tag, codec, bytes, expected, scale) in [
            (6, "A-law", a_law, [4032.0, -4032.0, 1.0, -1.0], 4096.0),
            (7, "\u{b5}-law", mu_law, [8031.0, -8031.0, 2.0, -2.0], 8192.0),
        ] {
            for extended in [false, true] {
                let file = order.file(tag, 8, extended, &bytes);
                let sound = read(&folder.file("file", &file), None);
                assert_eq!(sound.channels, [expected.map(|level| level / scale)], "{codec}");
                assert_eq!((sound.info.codec.as_str(), sound.info.lossy), (codec, true));
                assert!(sound.warnings.is_empty(), "{:?}", sound.warnings);
            }
        }
    }
}

#[test]
#[ignore = "needs ffmpeg and sox"]
fn files_of_two_other_programs_give_what_they_decode_themselves() {
    let folder = Folder::new("formats-kin-others");
    let signal = Signal::new(Words::S24, 2, 5_000);
    let plain = by_ffmpeg(&folder, "plain.wav", Words::S24, &signal, &["-c:a", "pcm_s24le"]);
    let turned = folder.join("turned.wav");
    run("sox", &["-D", &text(&plain), "-B", &text(&turned)]);
    let sound = read(&turned, None);
    assert_eq!((sound.info.format.as_str(), &sound.channels), ("RIFX", &signal.channels));
    for codec in ["pcm_mulaw", "pcm_alaw"] {
        let path = by_ffmpeg(&folder, codec, Words::S24, &signal, &["-c:a", codec, "-f", "wav"]);
        let expected = as_decoded(&folder, &path);
        assert_eq!(read(&path, None).channels, expected, "{codec}");
        // The one program does not read what the other makes of it.
        let turned = folder.join(&format!("{codec}.wav"));
        run("sox", &["-D", &text(&path), "-B", &text(&turned)]);
        let sound = read(&turned, None);
        assert_eq!((sound.info.format.as_str(), sound.channels), ("RIFX", expected), "{codec}");
    }
}

fn as_decoded(folder: &Folder, path: &Path) -> Vec<Vec<f64>> {
    let channels = decoded_by_ffmpeg(folder, path, 2);
    channels.into_iter().map(|channel| channel.into_iter().map(f64::from).collect()).collect()
}
