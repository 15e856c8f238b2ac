//! Which part of a track is heard: the edit list, or the comment that stands for one.

use std::ops::Range;

use super::atoms::{Atoms, be_u32, be_u64, find};
use crate::audio::window::Window;

/// A media time of −1: nothing of the track is heard for so long.
const EMPTY: i64 = -1;

/// The edit list as a window on the track, in ticks of the track's clock.
///
/// Empty entries before the first other are silence; those between others, which would be a hole in
/// the middle, are passed over. None where the list says nothing about the sound: no entry but empty
/// ones, or the whole track from its start. None also where it repeats or reorders parts, which
/// sound from a camera or an encoder never does.
pub(super) fn window(elst: &[u8], movie_hz: u32, clock_hz: u32, total: u64) -> Option<Window> {
    let mut kept: Vec<Range<u64>> = Vec::new();
    let mut silence = 0u64;
    for (length, start) in entries(elst) {
        if start == EMPTY {
            if kept.is_empty() && movie_hz > 0 {
                silence = silence.saturating_add(scaled(length, movie_hz, clock_hz));
            }
            continue;
        }
        let start = u64::try_from(start).ok()?;
        if kept.last().is_some_and(|last| start < last.end) {
            return None;
        }
        let end = end(start, length, movie_hz, clock_hz, total);
        kept.push(start..end.max(start));
    }
    let whole = kept.iter().all(|kept| *kept == (0..u64::MAX));
    if kept.is_empty() || whole && silence == 0 {
        return None;
    }
    Some(Window::of(kept).after_silence(silence))
}

/// So many ticks of the movie's clock, in ticks of the track's.
fn scaled(ticks: u64, movie_hz: u32, clock_hz: u32) -> u64 {
    let scaled = u128::from(ticks) * u128::from(clock_hz) / u128::from(movie_hz);
    u64::try_from(scaled).unwrap_or(u64::MAX)
}

/// Lengths are counted by the movie's clock, which is often no finer than a millisecond: an end
/// that is within a tick of it the end of the track means the end of the track, whose own clock
/// knows it exactly.
fn end(start: u64, length: u64, movie_hz: u32, clock_hz: u32, total: u64) -> u64 {
    if length == 0 || movie_hz == 0 {
        return if total > 0 { total } else { u64::MAX };
    }
    let end = start.saturating_add(scaled(length, movie_hz, clock_hz));
    let tick = u64::from(clock_hz).div_ceil(u64::from(movie_hz));
    if total > 0 && end.abs_diff(total) <= tick { total } else { end }
}

/// Length in the movie's ticks and start in the track's, for each entry.
fn entries(elst: &[u8]) -> impl Iterator<Item = (u64, i64)> {
    let wide = elst.first() == Some(&1);
    let body = elst.get(8..).unwrap_or_default();
    let count = be_u32(elst, 4).unwrap_or(0) as usize;
    body.chunks_exact(if wide { 20 } else { 12 }).take(count).map_while(move |entry| {
        if wide {
            Some((be_u64(entry, 0)?, be_u64(entry, 8)? as i64))
        } else {
            Some((u64::from(be_u32(entry, 0)?), i64::from(be_u32(entry, 4)? as i32)))
        }
    })
}

/// Delay and length as some encoders write them into a comment, in frames.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Gapless {
    delay: u64,
    frames: u64,
}

impl Gapless {
    pub(super) fn window(&self) -> Window {
        Window::one(self.delay, self.frames)
    }
}

/// The comment `iTunSMPB` under `udta/meta/ilst`: hexadecimal words, of which the second is the
/// delay, the third the padding and the fourth the length.
pub(super) fn gapless_comment(moov: &[u8]) -> Option<Gapless> {
    let meta = find(find(moov, b"udta")?, b"meta")?;
    // A full atom in MP4, a plain one in QuickTime.
    let ilst = find(meta.get(4..)?, b"ilst").or_else(|| find(meta, b"ilst"))?;
    let text = Atoms::of(ilst)
        .filter(|(kind, _)| *kind == b"----")
        .find(|(_, body)| find(body, b"name").and_then(|name| name.get(4..)) == Some(b"iTunSMPB"))
        .and_then(|(_, body)| find(body, b"data")?.get(8..))?;
    let text = std::str::from_utf8(text).ok()?;
    let mut words = text.split_ascii_whitespace();
    let mut word = |nth| u64::from_str_radix(words.nth(nth)?, 16).ok();
    let delay = word(1)?;
    let frames = word(1)?;
    (frames > 0).then_some(Gapless { delay, frames })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn elst(entries: &[(u32, i32)]) -> Vec<u8> {
        let mut body = vec![0; 4];
        body.extend((entries.len() as u32).to_be_bytes());
        for (length, start) in entries {
            body.extend(length.to_be_bytes());
            body.extend(start.to_be_bytes());
            body.extend([0, 1, 0, 0]);
        }
        body
    }

    #[test]
    fn an_end_that_the_movies_clock_rounds_is_taken_from_the_tracks() {
        // 4800 frames behind a delay of 1024, at 48 kHz; the movie counts milliseconds.
        let list = elst(&[(100, 1024)]);
        assert_eq!(window(&list, 1000, 48_000, 5824), Some(Window::one(1024, 4800)));
        assert_eq!(window(&list, 1000, 48_000, 5830), Some(Window::one(1024, 4806)));
        assert_eq!(window(&list, 1000, 48_000, 6144), Some(Window::one(1024, 4800)));
    }

    #[test]
    fn an_empty_edit_in_front_is_silence() {
        let list = elst(&[(40, -1), (100, 1024)]);
        let expected = Window::one(1024, 4800).after_silence(1920);
        assert_eq!(window(&list, 1000, 48_000, 5824), Some(expected));
    }
}
