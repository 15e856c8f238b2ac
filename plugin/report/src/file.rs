//! What a page says of a file itself.

use ledgerline_measure::words;

use crate::page;

/// What is known of a file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FileFacts<'a> {
    /// Where it is, `-` for standard input; or a title.
    pub path: &'a str,
    /// Kind of file, such as `WAV`.
    pub format: &'a str,
    /// How the samples are stored, such as `PCM, 24 bit`.
    pub codec: &'a str,
    /// The program that decoded it, where it was another: name and version.
    pub decoder: Option<&'a str>,
    /// Sample rate, in Hz.
    pub sample_rate_hz: u32,
    /// How many channels it has.
    pub channels: usize,
    /// Length in seconds, if known.
    pub duration_s: Option<f64>,
    /// What is wrong with the file itself, in sentences.
    pub warnings: &'a [String],
}

impl FileFacts<'_> {
    /// The facts in a line, the length being `length_s` where the file does not tell.
    #[must_use]
    pub fn line(&self, length_s: f64) -> String {
        let kind = [self.format, self.codec].map(page::clean);
        let facts = [
            channels(self.channels),
            words::frequency(f64::from(self.sample_rate_hz)),
            words::duration(self.duration_s.unwrap_or(length_s)),
        ];
        let decoder = self.decoder.map(|name| format!("decoded by {}", page::clean(name)));
        let parts = kind.into_iter().filter(|text| !text.is_empty()).chain(facts).chain(decoder);
        parts.collect::<Vec<_>>().join(" · ")
    }
}

/// How many channels, in words.
pub(crate) fn channels(count: usize) -> String {
    match count {
        1 => "mono".into(),
        2 => "stereo".into(),
        count => format!("{count} channels"),
    }
}
