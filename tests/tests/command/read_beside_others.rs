//! `ledgerline read` beside ffmpeg's loudness filter and beside the `ebur128` crate, on files that
//! ffmpeg and sox made.

use std::process::Command;

use ebur128::{EbuR128, Mode};
use ledgerline_tests::command::records;
use ledgerline_tests::folder::Folder;
use ledgerline_tests::signals::tone::{Sine, added, scaled, silence};
use ledgerline_tests::signals::{Stereo, ferry, noise};
use ledgerline_tests::wav;
use serde_json::Value;

/// ffmpeg prints one decimal; its K-weighting, like the crate's, drifts by up to 0.04 dB at high
/// rates (computed from the usual re-derivation of ITU-R BS.1770's filter).
const PRINTED_LU: f64 = 0.1;
/// EBU Tech 3342's own tolerance is 1 LU; ours is what the printout and the grid of 0.1 s allow.
const RANGE_LU: f64 = 0.3;
/// How far a 4-fold oversampled reading may lie below the waveform's peak: ITU-R BS.1770-5, Annex
/// 2, Attachment 1, for content up to half the rate; and 0.1 dB of printout.
const OVERSAMPLED_BELOW_DB: f64 = 0.688 + 0.1;
/// How far it may lie above: the resampler's ripple (seen here, no source), and the printout.
const OVERSAMPLED_ABOVE_DB: f64 = 0.15;
/// The crate on the very same samples at up to 48 kHz, and above.
const CRATE_LU: f64 = 0.02;
const CRATE_HIGH_RATE_LU: f64 = 0.06;

fn run(program: &str, words: &[&str]) -> String {
    let output = Command::new(program).args(words).output().expect(program);
    let printed = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.success(), "{program} {words:?}: {printed}");
    printed
}

fn ffmpeg(words: &[&str]) -> String {
    run("ffmpeg", &[&["-nostdin", "-hide_banner", "-nostats", "-y"], words].concat())
}

/// Samples as ffmpeg decodes them, interleaved.
fn decoded(path: &str) -> Vec<f32> {
    let output = Command::new("ffmpeg")
        .args(["-nostdin", "-v", "error", "-i", path, "-map", "0:a:0", "-f", "f32le", "-"])
        .output()
        .expect("ffmpeg");
    let samples = output.stdout.chunks_exact(4);
    samples.map(|bytes| f32::from_le_bytes(bytes.try_into().expect("four bytes"))).collect()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

/// Loud and soft passages, so that there is a range.
fn passages(rate_hz: f64, seed: u64) -> Stereo {
    let frames = (6.0 * rate_hz) as usize;
    let stretch = |seed: u64, rms: f64| noise::pink(seed, rms, rate_hz, frames);
    let channel = |seed: u64| {
        let levels = [0.08, 0.02, 0.05, 0.005, 0.1];
        levels.iter().zip(seed..).flat_map(|(&rms, seed)| stretch(seed, rms)).collect::<Vec<f32>>()
    };
    Stereo::new(rate_hz, channel(seed), channel(seed + 50))
}

/// A dozen files, as different as sound for video is.
fn a_dozen(folder: &Folder) -> Vec<String> {
    let write = |name: &str, track: &Stereo| {
        let path = folder.path(&format!("{name}.wav"));
        wav::write(&path, track.rate_hz as u32, &track.channels());
        path
    };
    let ferry = ferry::play().cut(0..30 * 96_000);
    let tone = |hz, peak| Sine::new(hz, peak).play(48_000.0, 12.0);
    let gap = [scaled(&tone(440.0, 0.3), 1.0), silence(48_000.0, 15.0), tone(440.0, 0.1)].concat();
    let hot = passages(48_000.0, 300);
    let hot = Stereo::new(48_000.0, scaled(&hot.left, 6.0), scaled(&hot.right, 6.0));
    let mut paths = vec![
        write("ferry-96", &ferry),
        write("passages-44", &passages(44_100.0, 1)),
        write("passages-48", &passages(48_000.0, 100)),
        write("passages-88", &passages(88_200.0, 200)),
        write("hot", &hot),
        write("tones", &Stereo::new(48_000.0, tone(997.0, 0.5), tone(5000.0, 0.2))),
        write("gap", &Stereo::both(48_000.0, gap)),
        write("beats", &Stereo::both(48_000.0, added(&tone(1000.0, 0.2), &tone(1001.0, 0.2)))),
    ];
    let mono = folder.path("mono.wav");
    wav::write(&mono, 48_000, &[&passages(48_000.0, 400).left]);
    let surround = folder.path("surround.wav");
    let channels: Vec<Vec<f32>> = (0..3)
        .flat_map(|index| {
            let pair = passages(48_000.0, 500 + 100 * index);
            [pair.left, pair.right]
        })
        .collect();
    wav::write(&surround, 48_000, &channels.iter().map(Vec::as_slice).collect::<Vec<_>>());
    let sixteen = folder.path("sixteen.flac");
    ffmpeg(&["-i", &paths[1], "-c:a", "flac", "-sample_fmt", "s16", &sixteen]);
    let lossy = folder.path("lossy.m4a");
    ffmpeg(&["-i", &paths[2], "-c:a", "aac", "-b:a", "192k", &lossy]);
    paths.extend([mono, surround, sixteen, lossy]);
    paths
}

/// A figure of ffmpeg's summary, the last of its name.
fn figure(summary: &str, name: &str) -> f64 {
    let line = summary.lines().rev().find_map(|line| line.trim().strip_prefix(name));
    let word = line.and_then(|rest| rest.split_whitespace().next()).expect(name);
    word.parse().expect("a number")
}

#[test]
#[ignore = "needs ffmpeg and sox"]
fn loudness_range_and_true_peak_are_those_that_ffmpeg_reads() {
    let folder = Folder::new("beside-ffmpeg");
    for path in a_dozen(&folder) {
        let bus = &records(&["read", "--fail-on", "never", &path]).1[0]["reading"]["whole"]["bus"];
        let summary = ffmpeg(&["-i", &path, "-af", "ebur128=peak=true", "-f", "null", "-"]);
        let beside = |key: &str, name: &str| (number(&bus[key]), figure(&summary, name));
        let (ours, theirs) = beside("integrated_lufs", "I:");
        assert!((ours - theirs).abs() <= PRINTED_LU, "{path}: {ours} LUFS beside {theirs}");
        let (ours, theirs) = beside("lra_lu", "LRA:");
        assert!((ours - theirs).abs() <= RANGE_LU, "{path}: {ours} LU beside {theirs}");
        let (ours, theirs) = beside("true_peak_dbtp", "Peak:");
        let over = ours - theirs;
        assert!(
            (-OVERSAMPLED_ABOVE_DB..=OVERSAMPLED_BELOW_DB).contains(&over),
            "{path}: {ours} dBTP beside {theirs}"
        );
    }
}

/// Container, what makes it, and whether the file holds what went in.
type Format = (&'static str, &'static [&'static str], bool);

const FORMATS: [Format; 16] = [
    ("16.wav", &["-c:a", "pcm_s16le"], true),
    ("24.wav", &["-c:a", "pcm_s24le"], true),
    ("32.wav", &["-c:a", "pcm_s32le"], true),
    ("64.wav", &["-c:a", "pcm_f64le"], true),
    ("large.wav", &["-c:a", "pcm_s24le", "-rf64", "always"], true),
    ("24.aiff", &["-c:a", "pcm_s24be"], true),
    ("24.caf", &["-c:a", "pcm_s24be"], true),
    ("16.flac", &["-c:a", "flac", "-sample_fmt", "s16"], true),
    ("flac.ogg", &["-c:a", "flac"], true),
    ("lossless.m4a", &["-c:a", "alac"], true),
    ("lossy.m4a", &["-c:a", "aac", "-b:a", "192k"], false),
    ("lossy.mov", &["-c:a", "aac", "-b:a", "256k"], false),
    ("lossy.mp3", &["-c:a", "libmp3lame", "-b:a", "192k"], false),
    ("lossy.ogg", &["-c:a", "libvorbis", "-q:a", "6"], false),
    ("lossy.mka", &["-c:a", "libvorbis", "-q:a", "4"], false),
    ("stream.aac", &["-c:a", "aac", "-b:a", "160k"], false),
];

#[test]
#[ignore = "needs ffmpeg and sox"]
fn every_format_reads_as_the_crate_reads_its_samples() {
    let folder = Folder::new("every-format");
    for rate_hz in [44_100.0, 96_000.0] {
        let source = folder.path("source.wav");
        let track = passages(rate_hz, 1);
        wav::write(&source, rate_hz as u32, &track.channels());
        for (name, words, lossless) in FORMATS {
            if rate_hz > 48_000.0 && !lossless {
                continue;
            }
            let path = folder.path(name);
            ffmpeg(&[&["-i", &source], words, &[&path]].concat());
            check(&path, rate_hz, lossless);
        }
        for name in ["sox.wav", "sox.aiff", "sox.flac"] {
            let path = folder.path(name);
            run("sox", &[&source, "-b", "24", &path]);
            check(&path, rate_hz, true);
        }
    }
}

fn check(path: &str, rate_hz: f64, lossless: bool) {
    let record = &records(&["read", path]).1[0];
    let (reading, bus) = (&record["reading"], &record["reading"]["whole"]["bus"]);
    let mut samples = decoded(path);
    let frames = (number(&reading["time_s"]) * rate_hz).round() as usize;
    // ffmpeg leaves the padding in that ends the last packet; we take it out where the file says.
    let padding = (samples.len() / 2).checked_sub(frames).expect("no frame more than ffmpeg");
    assert!(padding < if lossless { 1 } else { 2048 }, "{path}: {padding} frames less");
    samples.truncate(2 * frames);
    let mode = Mode::I | Mode::LRA | Mode::SAMPLE_PEAK;
    let mut peer = EbuR128::new(2, rate_hz as u32, mode).expect("a meter");
    peer.add_frames_f32(&samples).expect("frames");
    let tolerance_lu = if rate_hz > 48_000.0 { CRATE_HIGH_RATE_LU } else { CRATE_LU };
    let lufs = peer.loudness_global().expect("loudness");
    let ours = number(&bus["integrated_lufs"]);
    assert!((ours - lufs).abs() <= tolerance_lu, "{path}: {ours} LUFS, the crate {lufs}");
    let (ours, lu) = (number(&bus["lra_lu"]), peer.loudness_range().expect("a range"));
    assert!((ours - lu).abs() <= RANGE_LU, "{path}: {ours} LU, the crate {lu}");
    let peak = (0..2).map(|channel| peer.sample_peak(channel).expect("a peak")).fold(0.0, f64::max);
    let ours = number(&bus["sample_peak_dbfs"]);
    // Decoders of lossy sound differ in their rounding.
    assert!((ours - 20.0 * peak.log10()).abs() <= 0.01, "{path}: {ours} dBFS, the crate {peak}");
}
