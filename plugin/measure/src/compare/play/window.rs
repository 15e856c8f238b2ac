//! A source behind a window that moves forward: any stretch near the window can be had, and what
//! lies behind it is forgotten, so that memory does not grow with the length of the file.

use super::held::Held;
use crate::compare::Source;
use crate::sample::is_sample;

/// The window over a source.
pub(in crate::compare) struct Window<'a, S: Source> {
    source: &'a mut S,
    /// Samples from frame `start` on, by channel.
    kept: Vec<Vec<f64>>,
    start: u64,
    ended: bool,
    block: Vec<Vec<f64>>,
    /// What has been read, all of it, while it may be held.
    held: Option<Held>,
    /// Frames seen so far that held a sample that is no level.
    pub invalid_frames: u64,
}

impl<'a, S: Source> Window<'a, S> {
    /// A window at the beginning of the source, which is rewound.
    pub fn new(source: &'a mut S) -> Result<Self, S::Error> {
        source.rewind()?;
        let channels = source.channels();
        Ok(Self {
            source,
            kept: vec![Vec::new(); channels],
            start: 0,
            ended: false,
            block: Vec::new(),
            held: None,
            invalid_frames: 0,
        })
    }

    /// The same, which also holds what it reads, if it is read from end to end without going back.
    pub fn holding(source: &'a mut S) -> Result<Self, S::Error> {
        let mut window = Self::new(source)?;
        window.held = Some(Held::new(window.channels()));
        Ok(window)
    }

    /// All that was read, from the beginning; `None` where that cannot be held.
    pub fn into_held(self) -> Option<Held> {
        self.held
    }

    pub fn channels(&self) -> usize {
        self.kept.len()
    }

    fn end(&self) -> u64 {
        self.start + self.kept.first().map_or(0, Vec::len) as u64
    }

    /// Makes the frames from `first` to `end` available, as far as the source has them, and forgets
    /// those before `first`. Going back costs a reading from the beginning.
    pub fn show(&mut self, first: i64, end: i64) -> Result<(), S::Error> {
        let (first, end) = (first.max(0) as u64, end.max(0) as u64);
        if first < self.start {
            self.source.rewind()?;
            self.kept.iter_mut().for_each(Vec::clear);
            self.start = 0;
            self.ended = false;
            self.held = None;
        }
        self.forget_before(first);
        while !self.ended && self.end() < end {
            self.read_block()?;
            self.forget_before(first);
        }
        Ok(())
    }

    /// The first frame past the end of the source, if the window has reached it.
    pub fn known_end(&self) -> Option<u64> {
        self.ended.then(|| self.end())
    }

    /// Copies a shown stretch of a channel; silence before and behind the source.
    pub fn copy(&self, channel: usize, first: i64, out: &mut [f64]) {
        out.fill(0.0);
        let kept = &self.kept[channel];
        let from = first - self.start as i64;
        let skip = usize::try_from(-from).unwrap_or(0).min(out.len());
        let from = usize::try_from(from).unwrap_or(0).min(kept.len());
        let count = (out.len() - skip).min(kept.len() - from);
        out[skip..skip + count].copy_from_slice(&kept[from..from + count]);
    }

    fn forget_before(&mut self, first: u64) {
        let length = self.kept.first().map_or(0, Vec::len);
        let gone = usize::try_from(first.saturating_sub(self.start)).unwrap_or(length).min(length);
        // Moving the rest costs as much as reading it did, so it waits until it is the smaller part.
        if gone > 0 && (gone == length || gone >= length / 2) {
            self.kept.iter_mut().for_each(|channel| drop(channel.drain(..gone)));
            self.start += gone as u64;
        }
    }

    fn read_block(&mut self) -> Result<(), S::Error> {
        if !self.source.read(&mut self.block)? {
            self.ended = true;
            return Ok(());
        }
        let channels = self.kept.len();
        let frames = self.block.iter().take(channels).map(Vec::len).min().unwrap_or(0);
        if self.block.len() < channels {
            return Ok(());
        }
        self.invalid_frames += clean(&mut self.block, frames);
        self.held = self.held.take().and_then(|held| held.with(&self.block, frames));
        for (kept, block) in self.kept.iter_mut().zip(&self.block) {
            kept.extend_from_slice(&block[..frames]);
        }
        Ok(())
    }
}

/// Silences samples that are no level; gives the number of frames that held one.
fn clean(block: &mut [Vec<f64>], frames: usize) -> u64 {
    let is_level = |x: &f64| is_sample(*x as f32);
    if block.iter().all(|channel| channel.iter().all(is_level)) {
        return 0;
    }
    let invalid = |n: &usize| block.iter().any(|c| c.get(*n).is_some_and(|x| !is_level(x)));
    let count = (0..frames).filter(invalid).count() as u64;
    for sample in block.iter_mut().flatten() {
        if !is_level(sample) {
            *sample = 0.0;
        }
    }
    count
}
