//! What is no sound, or only part of it: a sentence with the file's name and what to do.

use std::path::{Path, PathBuf};

use super::{read, refused};
use ledgerline_tests::folder::Folder;

fn seed(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("seeds").join(name)
}

#[test]
fn what_is_no_sound_is_refused_with_its_name_and_what_to_do() {
    let folder = Folder::new("formats-nothing");
    let noise: Vec<u8> =
        (0..200_000).map(|index| ledgerline_tests::signals::noise::hash(3, index) as u8).collect();
    let cases: [(&str, &[u8], &str); 9] = [
        ("empty", b"", "is empty"),
        ("noise", &noise, "no sound that can be recognised"),
        ("zeros", &[0; 100_000], "no sound that can be recognised"),
        ("letter.wav", b"Dear engineer, here is no sound at all.\n", "no sound that can be"),
        ("picture", b"\x89PNG\r\n\x1a\n0000", "is a picture"),
        ("stream.ts", &b"\x47".repeat(2000), "an MPEG transport stream"),
        ("archive", b"PK\x03\x04 RIFF\x00\x00\x00\x00WAVEfmt ", "is a ZIP archive"),
        ("four", b"RIFF", "RIFF file without sound"),
        ("head.flac", b"fLaC", "damaged header"),
    ];
    for (name, bytes, told) in cases {
        let error = refused(&folder.file(name, bytes), None);
        assert!(error.contains(name) && error.contains(told), "{error}");
        assert!(error.ends_with('.'), "{error}");
    }
    let error = refused(folder.folder(), None);
    assert!(error.contains("is a folder. Name the files in it."), "{error}");
    let error = refused(&folder.join("nowhere.wav"), None);
    assert!(error.contains("nowhere.wav cannot be read"), "{error}");
}

#[test]
fn a_file_that_was_cut_short_gives_what_is_there_and_says_so() {
    let folder = Folder::new("formats-cut");
    for name in [
        "wav16.wav",
        "rf64.wav",
        "aiff24.aiff",
        "caf.caf",
        "flac.flac",
        "oggflac.oga",
        "mp3.mp3",
        "aac.aac",
        "flac.mkv",
        "frag.mp4",
    ] {
        let whole = read(&seed(name), None);
        let bytes = std::fs::read(seed(name)).expect("a seed");
        let cut = read(&folder.file(name, &bytes[..bytes.len() * 3 / 4]), None);
        let (there, all) = (cut.channels[0].len(), whole.channels[0].len());
        assert!(there > all / 4 && there < all, "{name}: {there} of {all}");
        assert!(
            cut.warnings.iter().any(|told| told.contains("breaks off")),
            "{name}: {:?}",
            cut.warnings
        );
        // A lossless packet is whole or not there at all.
        if !whole.info.lossy {
            assert_eq!(cut.channels[0], whole.channels[0][..there], "{name}");
        }
    }
}

/// The library counts through what is promised, which took seconds for a number of 32 bits.
#[test]
fn a_fragment_that_promises_more_than_there_can_be_is_refused() {
    let folder = Folder::new("formats-promises");
    let mut bytes = std::fs::read(seed("frag.mp4")).expect("a seed");
    let run = bytes.windows(4).position(|name| name == b"trun").expect("a run");
    bytes[run + 4..run + 12].copy_from_slice(&[0, 0, 0, 0, 0x80, 0, 0, 0]);
    let error = refused(&folder.file("file.mp4", &bytes), None);
    assert!(error.contains("a fragment promises more samples than the file can hold"), "{error}");
}

#[test]
fn a_damaged_packet_becomes_silence_and_is_counted() {
    let folder = Folder::new("formats-damaged");
    let mut bytes = std::fs::read(seed("alac.m4a")).expect("a seed");
    let whole = read(&seed("alac.m4a"), None);
    // The first packet: the first 4096 frames.
    let mdat = bytes.windows(4).position(|name| name == b"mdat").expect("samples") + 4;
    bytes[mdat..mdat + 2000].fill(0xFF);
    let sound = read(&folder.file("file", &bytes), None);
    assert_eq!(sound.channels[0].len(), whole.channels[0].len());
    assert_eq!(sound.channels[0][4096..], whole.channels[0][4096..]);
    assert!(sound.channels[0][..4096].iter().all(|sample| *sample == 0.0));
    assert!(sound.warnings[0].starts_with("A damaged packet at 0:00.000"), "{:?}", sound.warnings);
}
