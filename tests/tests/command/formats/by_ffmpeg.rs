//! What is not decoded here: the machine's own ffmpeg is asked, and it is told which decoder it was.

use ledgerline_cli::audio::Choice;
use ledgerline_measure::ChannelRole::{Center, Left, LowFrequency, Right, Surround};

use super::tools::{by_ffmpeg, decoded_with};
use super::words::{Signal, Words};
use super::{read, refused};
use ledgerline_tests::folder::Folder;

const FRAMES: usize = 48_000;

/// HE-AAC that says so in its packets alone: plain AAC at 24 kHz, each packet of which got an element
/// that fills with the data before its end.
fn half_a_band() -> Vec<u8> {
    let plain = include_bytes!("../../../seeds/aac.aac");
    let mut made = Vec::new();
    let mut rest = &plain[..];
    while rest.len() > 7 {
        let length =
            usize::from(rest[3] & 3) << 11 | usize::from(rest[4]) << 3 | usize::from(rest[5] >> 5);
        let (frame, behind) = rest.split_at(length);
        let (head, body) = frame.split_at(if frame[1] & 1 == 0 { 9 } else { 7 });
        let mut bits: Vec<bool> = body
            .iter()
            .flat_map(|byte| (0..8).rev().map(move |bit| byte >> bit & 1 == 1))
            .collect();
        while bits.last() == Some(&false) {
            bits.pop();
        }
        bits.truncate(bits.len() - 3);
        // To fill, two bytes, the data, and the end.
        let more = "110_0010_1101_000000000000_111".chars().filter(|bit| *bit != '_');
        bits.extend(more.map(|bit| bit == '1'));
        bits.resize(bits.len().next_multiple_of(8), false);
        let body: Vec<u8> = bits
            .chunks(8)
            .map(|byte| byte.iter().fold(0, |value, bit| value << 1 | u8::from(*bit)))
            .collect();
        let mut head = head.to_vec();
        let length = head.len() + body.len();
        head[3] = head[3] & 0xFC | (length >> 11) as u8;
        head[4] = (length >> 3) as u8;
        head[5] = head[5] & 0x1F | ((length & 7) << 5) as u8;
        // 24 kHz.
        head[2] = head[2] & 0xC3 | 6 << 2;
        made.extend(head);
        made.extend(body);
        rest = behind;
    }
    made
}

#[test]
fn he_aac_that_only_its_packets_tell_is_not_decoded_by_half() {
    let folder = Folder::new("formats-half");
    let choice = Choice { track: None, own_decoders_only: true };
    let error = refused(&folder.file("half.aac", &half_a_band()), choice);
    assert!(error.contains("half.aac holds HE-AAC, by its packets"), "{error}");
}

#[test]
#[ignore = "needs ffmpeg and sox"]
fn films_of_every_kind_are_read() {
    let folder = Folder::new("formats-by-ffmpeg");
    let stereo = [Left, Right];
    let six = [Left, Right, Center, LowFrequency, Surround, Surround];
    for (name, options, format, codec, roles) in [
        ("a.ts", &["-c:a", "mp2"][..], "MPEG transport stream", "MPEG layer 2", &stereo[..]),
        ("b.ts", &["-c:a", "ac3"], "MPEG transport stream", "AC-3", &six),
        ("c.mp4", &["-c:a", "ac3"], "MP4", "AC-3", &six),
        ("c.mkv", &["-c:a", "eac3"], "Matroska", "E-AC-3", &six),
        (
            "d.mkv",
            &["-c:a", "dca", "-strict", "-2", "-channel_layout", "5.1(side)"],
            "Matroska",
            "DTS",
            &six,
        ),
        ("e.m4a", &["-c:a", "aac"], "MP4", "AAC-LC", &six),
        ("f.avi", &["-c:a", "libmp3lame"], "AVI", "MP3", &stereo),
        ("g.mxf", &["-c:a", "pcm_s24le"], "MXF", "PCM, 24 bit", &stereo),
        ("h.wma", &["-c:a", "wmav2"], "ASF", "WMA", &stereo),
        ("i.ac3", &["-c:a", "ac3"], "AC-3", "AC-3", &six),
        ("j.wv", &["-c:a", "wavpack"], "WavPack", "WavPack", &stereo),
    ] {
        // A name that would be an option or an address without its folder and a word before it.
        let name = format!("-map:http:{name}");
        let signal = Signal::new(Words::S24, roles.len(), FRAMES);
        let quiet = ["-af", "volume=0.2"];
        let film = ["-f", "lavfi", "-i", "testsrc=d=1:s=64x64:r=25", "-map", "1", "-map", "0"];
        let is_film = matches!(format, "MXF" | "AVI");
        let video = if is_film { &film[..] } else { &[] };
        let path =
            by_ffmpeg(&folder, &name, Words::S24, &signal, &[video, &quiet, options].concat());
        let sound = read(&path, None);
        let told = (sound.info.format.as_str(), sound.info.codec.as_str());
        assert_eq!(told, (format, codec), "{name}");
        assert!(sound.info.decoder.starts_with("ffmpeg "), "{name}: {}", sound.info.decoder);
        assert_eq!((sound.info.sample_rate_hz, &sound.info.roles[..]), (48_000, roles), "{name}");
        assert_eq!(sound.warnings, Vec::<String>::new(), "{name}");
        let still: &[&str] = if codec.contains("AC-3") { &["-drc_scale", "0"] } else { &[] };
        let other = decoded_with(&folder, &path, roles.len(), still);
        assert_eq!(sound.channels[0].len(), other[0].len(), "{name}");
        for (ours, other) in sound.channels.iter().zip(&other) {
            assert!(ours.iter().map(|sample| *sample as f32).eq(other.iter().copied()), "{name}");
        }
        let choice = Choice { track: None, own_decoders_only: true };
        let error = refused(&path, choice);
        assert!(error.contains("Without --own-decoders-only"), "{error}");
    }
}

#[test]
#[ignore = "needs ffmpeg and sox"]
fn where_ffmpeg_fails_too_its_words_are_told() {
    let folder = Folder::new("formats-neither");
    let error = refused(&folder.file("stream.ts", &b"\x47".repeat(2000)), None);
    assert!(error.contains("The machine's own ffmpeg cannot read it either: "), "{error}");
}
