//! Files that ffmpeg makes of the long one: coded as they are usual, and of six channels.

use std::path::{Path, PathBuf};
use std::process::Command;

use anyhow::{Result, ensure};

/// What is to be made.
pub(super) struct Made {
    pub(super) name: &'static str,
    pub(super) channels: usize,
    pub(super) minutes: usize,
    ending: &'static str,
    options: &'static [&'static str],
}

/// Stereo is coded at 44.1 kHz; the six channels are made of the two.
pub(super) const FILES: [Made; 5] = [
    Made {
        name: "FLAC, stereo, 44.1 kHz, 7 min",
        channels: 2,
        minutes: 7,
        ending: "flac",
        options: &["-ar", "44100", "-sample_fmt", "s16", "-c:a", "flac"],
    },
    Made {
        name: "Vorbis, stereo, 44.1 kHz, 7 min",
        channels: 2,
        minutes: 7,
        ending: "ogg",
        options: &["-ar", "44100", "-c:a", "libvorbis", "-q:a", "5"],
    },
    Made {
        name: "AAC, stereo, 44.1 kHz, 7 min",
        channels: 2,
        minutes: 7,
        ending: "m4a",
        options: &["-ar", "44100", "-c:a", "aac", "-b:a", "192k"],
    },
    Made {
        name: "MP3, stereo, 44.1 kHz, 7 min",
        channels: 2,
        minutes: 7,
        ending: "mp3",
        options: &["-ar", "44100", "-c:a", "libmp3lame", "-b:a", "192k"],
    },
    Made {
        name: "float WAV, 5.1, 96 kHz, 5 min",
        channels: 6,
        minutes: 5,
        ending: "wav",
        options: &[
            "-af",
            "pan=5.1|c0=c0|c1=c1|c2=0.4*c0+0.4*c1|c3=0.2*c0|c4=0.5*c0-0.2*c1|c5=0.5*c1-0.2*c0",
            "-c:a",
            "pcm_f32le",
        ],
    },
];

impl Made {
    /// Makes it of `linear`; none where there is no ffmpeg.
    ///
    /// # Errors
    ///
    /// When ffmpeg fails.
    pub(super) fn make(&self, linear: &Path, folder: &Path) -> Result<Option<PathBuf>> {
        let path = folder.join("made").with_extension(self.ending);
        let mut command = Command::new("ffmpeg");
        // Twice the long one is more than any of them lasts.
        command.args(["-v", "error", "-y", "-stream_loop", "1", "-i"]).arg(linear);
        command.args(["-t", &(60 * self.minutes).to_string()]).args(self.options).arg(&path);
        let Ok(output) = command.output() else { return Ok(None) };
        let printed = String::from_utf8_lossy(&output.stderr);
        ensure!(output.status.success(), "ffmpeg cannot make {}: {printed}", self.name);
        Ok(Some(path))
    }
}
