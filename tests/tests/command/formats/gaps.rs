//! Where a container says that there is nothing, or that what there is is not heard: Matroska written
//! here element by element, and films by ffmpeg.

use super::tools::{run, text};
use super::{Sound, read};
use ledgerline_tests::folder::Folder;

const RATE_HZ: u64 = 48_000;

fn element(id: &[u8], body: &[u8]) -> Vec<u8> {
    let size = (body.len() as u64 | 1 << 56).to_be_bytes();
    [id, &size, body].concat()
}

fn number(id: &[u8], number: u64) -> Vec<u8> {
    element(id, &number.to_be_bytes())
}

/// A block of 16-bit samples at a time in milliseconds; its flags and its laced body.
fn block(at_ms: i16, flags: u8, body: &[u8]) -> Vec<u8> {
    [&[0x81][..], &at_ms.to_be_bytes(), &[flags], body].concat()
}

fn simple(at_ms: i16, samples: &[i16]) -> Vec<u8> {
    element(&[0xA3], &block(at_ms, 0, &bytes(samples)))
}

fn bytes(samples: &[i16]) -> Vec<u8> {
    samples.iter().flat_map(|sample| sample.to_le_bytes()).collect()
}

/// A file with one track of one channel; `track` is what its entry says besides.
fn matroska(track: &[Vec<u8>], blocks: &[Vec<u8>]) -> Vec<u8> {
    let audio = [
        element(&[0xB5], &(RATE_HZ as f64).to_be_bytes()),
        number(&[0x9F], 1),
        number(&[0x62, 0x64], 16),
    ];
    let entry = [
        number(&[0xD7], 1),
        number(&[0x73, 0xC5], 1),
        number(&[0x83], 2),
        element(&[0x86], b"A_PCM/INT/LIT"),
        track.concat(),
        element(&[0xE1], &audio.concat()),
    ];
    let cluster = [number(&[0xE7], 0), blocks.concat()].concat();
    let info = [
        number(&[0x2A, 0xD7, 0xB1], 1_000_000),
        element(&[0x4D, 0x80], b"test"),
        element(&[0x57, 0x41], b"test"),
    ];
    let segment = [
        element(&[0x15, 0x49, 0xA9, 0x66], &info.concat()),
        element(&[0x16, 0x54, 0xAE, 0x6B], &element(&[0xAE], &entry.concat())),
        element(&[0x1F, 0x43, 0xB6, 0x75], &cluster),
    ];
    let head = element(&[0x1A, 0x45, 0xDF, 0xA3], &element(&[0x42, 0x82], b"matroska"));
    [head, element(&[0x18, 0x53, 0x80, 0x67], &segment.concat())].concat()
}

/// 10 ms that are told from any other.
fn ten_ms(first: i16) -> Vec<i16> {
    (0..480).map(|index| first + index).collect()
}

fn as_read(samples: &[i16]) -> Vec<f64> {
    samples.iter().map(|sample| f64::from(*sample) / 32_768.0).collect()
}

fn sound(name: &str, track: &[Vec<u8>], blocks: &[Vec<u8>]) -> Sound {
    let folder = Folder::new(name);
    read(&folder.file("file.mkv", &matroska(track, blocks)), None)
}

#[test]
fn gaps_between_blocks_and_before_the_first_are_silence() {
    let blocks = [simple(30, &ten_ms(1)), simple(40, &ten_ms(500)), simple(150, &ten_ms(1000))];
    let sound = sound("formats-gap", &[], &blocks);
    let silence = |ms: usize| vec![0i16; ms * 48];
    let expected = [silence(30), ten_ms(1), ten_ms(500), silence(100), ten_ms(1000)].concat();
    assert_eq!(sound.channels, [as_read(&expected)]);
    let told = "The file leaves a gap in the sound at 0:00.050; it was read as silence.";
    assert_eq!(sound.warnings, [told]);
}

#[test]
fn times_that_are_a_little_off_are_no_gaps() {
    let blocks = [simple(0, &ten_ms(1)), simple(14, &ten_ms(500)), simple(19, &ten_ms(1000))];
    let sound = sound("formats-jitter", &[], &blocks);
    let expected = [ten_ms(1), ten_ms(500), ten_ms(1000)].concat();
    assert_eq!((sound.channels, sound.warnings), (vec![as_read(&expected)], Vec::new()));
}

#[test]
fn codec_delay_and_discard_padding_are_taken_out() {
    let delay = number(&[0x56, 0xAA], 2_000_000);
    let padding = (4_000_000i64).to_be_bytes();
    let group =
        [element(&[0xA1], &block(10, 0, &bytes(&ten_ms(500)))), element(&[0x75, 0xA2], &padding)];
    let blocks = [simple(0, &ten_ms(1)), element(&[0xA0], &group.concat())];
    let sound = sound("formats-delay", &[delay], &blocks);
    let expected = [ten_ms(1)[96..].to_vec(), ten_ms(500)[..288].to_vec()].concat();
    assert_eq!((sound.channels, sound.warnings), (vec![as_read(&expected)], Vec::new()));
}

#[test]
fn laced_packets_and_stripped_headers_are_put_together() {
    let settings = element(&[0x42, 0x55], &7i16.to_le_bytes());
    let compression = element(&[0x50, 0x34], &[number(&[0x42, 0x54], 3), settings].concat());
    let encodings = element(&[0x6D, 0x80], &element(&[0x62, 0x40], &compression));
    let laced = [&[1][..], &bytes(&ten_ms(1)[1..]), &bytes(&ten_ms(500)[1..])].concat();
    let blocks = [element(&[0xA3], &block(0, 4, &laced)), simple(20, &ten_ms(1000)[1..])];
    let sound = sound("formats-laced", &[encodings], &blocks);
    let mut expected = [ten_ms(1), ten_ms(500), ten_ms(1000)].concat();
    for start in [0, 480, 960] {
        expected[start] = 7;
    }
    assert_eq!((sound.channels, sound.warnings), (vec![as_read(&expected)], Vec::new()));
}

#[test]
fn behind_damage_the_next_cluster_goes_on() {
    let mut file = matroska(&[], &[simple(0, &ten_ms(1)), simple(10, &ten_ms(500))]);
    // The size of the second block says that it goes on behind the end.
    let second = file.len() - 2 * 480 - 4 - 8;
    file[second..second + 8].copy_from_slice(&(1u64 << 56 | 100_000).to_be_bytes());
    let cluster = [number(&[0xE7], 20), simple(0, &ten_ms(1000))].concat();
    file.extend(element(&[0x1F, 0x43, 0xB6, 0x75], &cluster));
    let folder = Folder::new("formats-behind-damage");
    let sound = read(&folder.file("file.mkv", &file), None);
    let expected = [ten_ms(1), vec![0; 480], ten_ms(1000)].concat();
    assert_eq!(sound.channels, [as_read(&expected)]);
    assert!(sound.warnings[0].starts_with("A damaged packet at 0:00.010"), "{:?}", sound.warnings);
}

/// A film whose sound begins half a second after its pictures.
#[test]
#[ignore = "needs ffmpeg and sox"]
fn sound_that_begins_after_the_pictures_begins_with_silence() {
    let folder = Folder::new("formats-late-sound");
    for (name, codec) in
        [("f.mov", "pcm_s24le"), ("f.mp4", "aac"), ("f.mkv", "pcm_s24le"), ("o.mkv", "libopus")]
    {
        let path = text(&folder.join(name));
        let picture = ["-v", "error", "-y", "-f", "lavfi", "-i", "testsrc=d=2:s=64x64:r=25"];
        let late = ["-itsoffset", "0.5", "-f", "lavfi", "-i", "sine=d=1:r=48000:f=997"];
        let coded = ["-c:v", "mpeg4", "-c:a", codec, &path];
        run("ffmpeg", &[&picture[..], &late, &coded].concat());
        let wav = text(&folder.join("by-ffmpeg.wav"));
        let filled = "aresample=async=1:min_hard_comp=0.01:first_pts=0";
        run(
            "ffmpeg",
            &["-v", "error", "-y", "-i", &path, "-af", filled, "-c:a", "pcm_f32le", &wav],
        );
        let (ours, theirs) = (read(folder.join(name).as_path(), None), read(wav.as_ref(), None));
        let (ours, theirs) = (&ours.channels[0], &theirs.channels[0]);
        // What stands behind the sound is padding that not every container states.
        let lengths = (ours.len(), theirs.len());
        assert!(lengths.0.abs_diff(lengths.1) <= 1024 + 48, "{name}: {lengths:?}");
        let begins = |samples: &[f64]| samples.iter().position(|sample| sample.abs() > 0.01);
        let begin = (begins(ours).expect("sound"), begins(theirs).expect("sound"));
        assert!(begin.0.abs_diff(begin.1) <= 48, "{name}: {begin:?}");
        assert!(begin.0 > 23_000 && begin.0 < 25_000, "{name}: {begin:?}");
    }
}
