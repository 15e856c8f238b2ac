//! A feed in place of the output. Once faded in, it is the measures' own pure function of the
//! transport's position, so that instances agree to the bit wherever they run; fades come only
//! where the transport starts, stops or jumps and where the feed, what it plays or its level is
//! changed.

use ledgerline_measure::sum_test::{Feed, NoiseKind, Pattern, Schedule};

use super::place::Place;
use crate::listen::normal;

/// Length of a fade, in seconds: as at the edges of a step.
const FADE_S: f64 = 0.02;
/// Samples are made in pieces of this many frames.
const PIECE_FRAMES: usize = 64;
/// A host that rounds its position may be off by this many frames without having jumped.
const ROUNDING_FRAMES: u64 = 1;

/// What is to play, if anything.
pub type Wanted = Option<Part>;

/// What a feed plays.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Which of the two it is.
    pub feed: Feed,
    /// Its peak level in dBFS.
    pub level_dbfs: f64,
    /// The noise of the loop and how long each of its pairs plays, in seconds; without one, the test.
    pub repeats: Option<(NoiseKind, f64)>,
}

/// Plays a feed.
pub struct FeedPlayer {
    /// `None` at a rate at which the test cannot play: a feed is silence then.
    schedule: Option<Schedule>,
    /// In Hz, where there is a schedule.
    rate_hz: u32,
    fade_frames: u32,
    playing: Option<Voice>,
    leaving: Option<Voice>,
    /// How far the input is faded in, up to `fade_frames`; `None` before the first block.
    input: Option<u32>,
}

/// One feed on its way from one place.
#[derive(Debug, Clone, Copy)]
struct Voice {
    score: Score,
    next: i64,
    /// How far it is faded in, up to `fade_frames`.
    faded: u32,
}

/// What a voice plays, worked out for the sample rate.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Score {
    feed: Feed,
    level_dbfs: f64,
    sounds: Sounds,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Sounds {
    Test(Schedule),
    Loop(Pattern),
}

impl FeedPlayer {
    /// A player at a sample rate.
    #[must_use]
    pub fn new(rate_hz: f64) -> Self {
        let whole_hz = whole_hz(rate_hz);
        let schedule = whole_hz.and_then(Schedule::new);
        let fade_frames = if schedule.is_some() { (FADE_S * rate_hz).round() as u32 } else { 1 };
        Self {
            schedule,
            rate_hz: whole_hz.unwrap_or(0),
            fade_frames,
            playing: None,
            leaving: None,
            input: None,
        }
    }

    /// Whether a test that is still whole can begin at this place.
    #[must_use]
    pub fn can_begin(&self, place: Place) -> bool {
        let opening = self.schedule.map(|schedule| schedule.opening_frames());
        opening.zip(place.playing_at).is_some_and(|(opening, at)| at <= opening.cast_signed())
    }

    /// Processing stops: whatever sounded has ended.
    pub fn stop(&mut self) {
        (self.playing, self.leaving, self.input) = (None, None, None);
    }

    /// For how many frames what sounds may fade on.
    #[must_use]
    pub fn tail_frames(&self) -> usize {
        let sounds = self.playing.is_some() || self.leaving.is_some();
        if sounds { 2 * self.fade_frames as usize } else { 0 }
    }

    /// Replaces a block by the feed that is wanted, or leaves every bit of it as it is.
    /// `block[channel][frame]`; every channel gets the same.
    pub fn process(&mut self, wanted: Wanted, place: Place, block: &mut [&mut [f32]]) {
        let whole = self.fade_frames;
        let frames = block.iter().map(|channel| channel.len()).min().unwrap_or(0);
        let input = *self.input.get_or_insert(if wanted.is_some() { 0 } else { whole });
        if wanted.is_none() && input == whole && self.playing.is_none() && self.leaving.is_none() {
            return;
        }
        let score = wanted.and_then(|part| self.score(part));
        let mut start = 0;
        while start < frames {
            let end = frames.min(start + PIECE_FRAMES);
            let chosen = self.choose(score, place.after(start));
            let mut piece = [0.0; PIECE_FRAMES];
            let piece = &mut piece[..end - start];
            self.sound(piece);
            // A feed that has to wait before it can leave is not joined by the input.
            self.fade_input(wanted.is_some() || !chosen, block, start, piece);
            start = end;
        }
    }

    /// What a part is at this sample rate; none where it cannot play.
    fn score(&self, part: Part) -> Option<Score> {
        let sounds = match part.repeats {
            None => Sounds::Test(self.schedule?),
            Some((noise, each_s)) => Sounds::Loop(Pattern::new(self.rate_hz, noise, each_s)?),
        };
        Some(Score { feed: part.feed, level_dbfs: part.level_dbfs, sounds })
    }

    /// Decides what plays on and what leaves. Says no where that has to wait, since only one voice
    /// leaves at a time: another would have to be cut off.
    fn choose(&mut self, wanted: Option<Score>, place: Place) -> bool {
        let wanted = wanted.zip(place.playing_at);
        let goes_on = self.playing.is_none_or(|voice| {
            wanted.is_some_and(|(score, next)| {
                // What is dragged along waits for the fade, or nothing would ever be heard.
                let same = voice.score == score || voice.faded < self.fade_frames;
                let same_feed = voice.score.feed == score.feed;
                same_feed && same && voice.next.abs_diff(next) <= ROUNDING_FRAMES
            })
        });
        if !goes_on {
            if self.leaving.is_some() {
                return false;
            }
            self.leaving = self.playing.take();
        }
        if self.playing.is_none()
            && let Some((score, next)) = wanted
        {
            self.playing = Some(Voice { score, next, faded: 0 });
        }
        true
    }

    /// The next samples of whatever sounds.
    fn sound(&mut self, piece: &mut [f32]) {
        let whole = self.fade_frames;
        if let Some(voice) = &mut self.playing {
            voice.make(piece);
            if voice.faded < whole {
                for sample in piece.iter_mut() {
                    *sample *= share(voice.faded, whole);
                    voice.faded = (voice.faded + 1).min(whole);
                }
            }
        }
        let Some(voice) = &mut self.leaving else { return };
        let mut tail = [0.0; PIECE_FRAMES];
        let tail = &mut tail[..piece.len()];
        voice.make(tail);
        for (sample, tail) in piece.iter_mut().zip(tail) {
            voice.faded = voice.faded.saturating_sub(1);
            *sample += *tail * share(voice.faded, whole);
        }
        if voice.faded == 0 {
            self.leaving = None;
        }
    }

    /// Puts the feed where the input was; over the length of a fade both are heard.
    fn fade_input(&mut self, away: bool, block: &mut [&mut [f32]], start: usize, piece: &[f32]) {
        let whole = self.fade_frames;
        let before = self.input.unwrap_or(0);
        for channel in block.iter_mut() {
            let mut input = before;
            for (out, feed) in channel[start..].iter_mut().zip(piece) {
                input = if away { input.saturating_sub(1) } else { (input + 1).min(whole) };
                *out = match input {
                    0 => normal(*feed),
                    _ if input == whole && *feed == 0.0 => *out,
                    _ if out.is_finite() => normal(*out * share(input, whole) + feed),
                    _ => normal(*feed),
                };
            }
        }
        let passed = piece.len() as u32;
        self.input =
            Some(if away { before.saturating_sub(passed) } else { (before + passed).min(whole) });
    }
}

impl Voice {
    /// Makes the next samples, not faded.
    fn make(&mut self, piece: &mut [f32]) {
        let Score { feed, level_dbfs, sounds } = self.score;
        match sounds {
            Sounds::Test(schedule) => {
                let before = usize::try_from(self.next.min(0).unsigned_abs()).unwrap_or(usize::MAX);
                let (silent, sounding) = piece.split_at_mut(before.min(piece.len()));
                silent.fill(0.0);
                feed.fill(&schedule, self.next.max(0).unsigned_abs(), level_dbfs, sounding);
            }
            Sounds::Loop(pattern) => pattern.fill(feed, self.next, level_dbfs, piece),
        }
        self.next = self.next.saturating_add_unsigned(piece.len() as u64);
    }
}

/// A sample rate as the test counts it; `None` where it is no whole number.
#[must_use]
pub fn whole_hz(rate_hz: f64) -> Option<u32> {
    (rate_hz.fract() == 0.0 && (1.0..=f64::from(u32::MAX)).contains(&rate_hz))
        .then_some(rate_hz as u32)
}

/// Raised cosine: how loud something is that is faded in so far.
fn share(faded: u32, whole: u32) -> f32 {
    if faded >= whole {
        return 1.0;
    }
    let angle = std::f32::consts::PI * faded as f32 / whole as f32;
    0.5 - 0.5 * angle.cos()
}

#[cfg(test)]
mod tests;
