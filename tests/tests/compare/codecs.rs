//! Comparisons through the command of exports that other programs made: lossy codecs in their
//! containers, converters, lossless formats. Edges of the encoders were measured on white noise with
//! the same tools.

use std::process::Command;
use std::sync::LazyLock;

use ledgerline_tests::command::records;
use ledgerline_tests::folder::Folder;
use ledgerline_tests::signals::session;
use ledgerline_tests::wav;
use serde_json::Value;

static FOLDER: LazyLock<Folder> = LazyLock::new(|| Folder::new("compare-codecs"));
static MIX: LazyLock<String> = LazyLock::new(|| {
    let piece = session::play(4, 48_000, 30.0);
    let single = |channel: &Vec<f64>| channel.iter().map(|x| *x as f32).collect::<Vec<f32>>();
    let [left, right] = [0, 1].map(|channel| single(&piece.channels[channel]));
    let path = FOLDER.path("mix.wav");
    wav::write(&path, 48_000, &[&left, &right]);
    path
});

/// An export of the mix by `ffmpeg` with these options, compared with it.
fn export(name: &str, options: &[&str]) -> Value {
    let path = FOLDER.path(name);
    let output = Command::new("ffmpeg")
        .args(["-v", "error", "-y", "-i", MIX.as_str()])
        .args(options)
        .arg(&path)
        .output()
        .expect("ffmpeg, from the package of that name");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let (_, mut found) = records(&["compare", MIX.as_str(), &path]);
    found.remove(0)
}

fn codes(record: &Value) -> Vec<&str> {
    let findings = record["findings"].as_array().expect("findings");
    findings.iter().filter_map(|finding| finding["code"].as_str()).collect()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or(f64::NAN)
}

#[test]
#[ignore = "needs ffmpeg and sox"]
fn lossy_exports_are_aligned_and_called_lossy() {
    // Name, options, edge in Hz if the encoder has one, gain in dB: this MP3 encoder scales by 0.95 at
    // its lower rates.
    let cases: [(&str, &[&str], Option<f64>, f64); 5] = [
        ("aac-128.mp4", &["-c:a", "aac", "-b:a", "128k"], Some(17_200.0), 0.0),
        ("aac-320.mp4", &["-c:a", "aac", "-b:a", "320k"], None, 0.0),
        ("128.mp3", &["-c:a", "libmp3lame", "-b:a", "128k"], Some(16_500.0), -0.4455),
        ("320.mp3", &["-c:a", "libmp3lame", "-b:a", "320k"], Some(20_300.0), 0.0),
        ("vorbis.ogg", &["-c:a", "libvorbis", "-b:a", "128k"], Some(19_100.0), 0.0),
    ];
    for (name, options, edge_hz, gain_db) in cases {
        let found = export(name, options);
        let said = &found["sentence"];
        assert_eq!(found["verdict"], "changed", "{name}: {said}");
        assert_eq!(found["channels"], "same", "{name}: {said}");
        // Judged by its codec, an export at a usual rate is what it is meant to be.
        assert_eq!(found["purpose_by"], "codec", "{name}");
        assert_eq!(found["within"], true, "{name}: {}", found["outside"]);
        let delay = number(&found["alignment"]["delay_samples"]);
        assert!(delay.abs() < 0.05, "{name}: delay {delay}");
        let gain = number(&found["gain_db"]);
        assert!((gain - gain_db).abs() < 0.1, "{name}: gain {gain}");
        assert!(codes(&found).contains(&"lossy_coding"), "{name}: {said}");
        for wrong in ["wrong_samples", "dropout", "edited", "drift", "limiting"] {
            assert!(!codes(&found).contains(&wrong), "{name}: {wrong} in {said}");
        }
        if let Some(edge_hz) = edge_hz {
            let found_hz = number(&found["band_limit_hz"]);
            assert!((found_hz - edge_hz).abs() < 1_000.0, "{name}: {found_hz} for {edge_hz}");
        }
    }
}

#[test]
#[ignore = "needs ffmpeg and sox"]
fn a_lossy_export_at_too_low_a_rate_is_sent_back_with_what_to_do() {
    let found = export("low.m4a", &["-c:a", "aac", "-b:a", "48k"]);
    assert_eq!((&found["purpose"], &found["within"]), (&"lossy".into(), &false.into()));
    let findings = found["findings"].as_array().expect("findings");
    let advice = "Code at a higher bit rate.";
    assert!(findings.iter().any(|finding| finding["advice"] == advice), "{findings:?}");
}

#[test]
#[ignore = "needs ffmpeg and sox"]
fn coding_that_overshoots_full_scale_is_a_caution_with_what_to_do() {
    let hot = ["-af", "volume=20dB,alimiter=limit=0.98:level=false", "-c:a"];
    let mix = FOLDER.path("hot.wav");
    let path = FOLDER.path("hot.m4a");
    for (from, to, options) in [
        (MIX.as_str(), &mix, [&hot[..], &["pcm_s24le"]].concat()),
        (mix.as_str(), &path, vec!["-c:a", "aac", "-b:a", "128k"]),
    ] {
        let output = Command::new("ffmpeg")
            .args(["-v", "error", "-y", "-i", from])
            .args(options)
            .arg(to)
            .output()
            .expect("ffmpeg, from the package of that name");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    }
    let (_, found) = records(&["compare", &mix, &path]);
    let found = &found[0];
    assert_eq!(found["within"], true, "{}", found["outside"]);
    let findings = found["findings"].as_array().expect("findings");
    let clipping = findings.iter().find(|finding| finding["code"] == "clipping").expect("overs");
    assert_eq!(clipping["severity"], "caution", "{clipping}");
    let advice = clipping["advice"].as_str().expect("advice");
    assert!(
        advice.starts_with("Turn the mix down by at least ")
            && advice.ends_with("before it is coded.")
    );
}

#[test]
#[ignore = "needs ffmpeg and sox"]
fn lossless_exports_are_identical_or_shortened() {
    let flac =
        export("24.flac", &["-c:a", "flac", "-sample_fmt", "s32", "-bits_per_raw_sample", "24"]);
    assert_eq!(flac["verdict"], "gain_only", "{}", flac["sentence"]);
    let wav = export("f32.wav", &["-c:a", "pcm_f32le"]);
    assert_eq!(wav["verdict"], "identical", "{}", wav["sentence"]);
}

#[test]
#[ignore = "needs ffmpeg and sox"]
fn other_programs_converters_are_seen_through() {
    let softer = export("44100.wav", &["-af", "volume=-3dB", "-ar", "44100", "-c:a", "pcm_s24le"]);

    assert!((number(&softer["gain_db"]) + 3.0).abs() < 0.01, "{}", softer["gain_db"]);
    assert!(number(&softer["alignment"]["delay_samples"]).abs() < 0.05, "{}", softer["alignment"]);
    assert!(number(&softer["residual"]["in_band_dbfs"]) < -90.0, "{}", softer["residual"]);

    let path = FOLDER.path("sox.wav");
    let output = Command::new("sox")
        .args([MIX.as_str(), "-b", "16", &path, "rate", "44100", "dither"])
        .output()
        .expect("sox, from the package of that name");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let (_, found) = records(&["compare", MIX.as_str(), &path]);
    let found = &found[0];

    assert_eq!(found["rate_converted"], true);
    assert_eq!(found["words"]["dither"], "triangular", "{}", found["sentence"]);
    assert!(number(&found["alignment"]["delay_samples"]).abs() < 0.01, "{}", found["alignment"]);
}
