//! Where the export lies in the mix, to a few milliseconds: windows of the export's features are
//! looked for in the whole mix; straight tracks through the places found are the candidates, and the
//! cheapest way along the tracks is the answer. Where it changes tracks, the programme was edited.

mod search;
mod tracks;

use crate::compare::profile::{Features, HOPS_A_SECOND};
use crate::compare::timeline::{Segment, Timeline};
use search::{Find, Windows};

/// Length of a window, in hops: 4 s. Shorter files get shorter windows.
const WINDOW_HOPS: usize = 800;
const LEAST_WINDOW_HOPS: usize = 60;
/// Windows begin this many times in one window's length.
const OVERLAP: usize = 4;
/// Most windows that are looked for in the whole mix; more of them are spread over the export. Fewer
/// do to find a speed.
const MOST_WINDOWS: usize = 1_000;
const FEW_WINDOWS: usize = 24;
/// Likeness below which a window is not explained by a track.
const LEAST_LIKENESS: f64 = 0.3;
/// What a change of tracks costs, in windows of perfect likeness.
const CHANGE_COST: f64 = 1.2;
/// Mean likeness of explained windows that makes the way believable.
const BELIEVABLE: f64 = 0.4;
/// Speeds at which a programme is played when rates or frame rates are mistaken: film and video,
/// 48 and 44.1 kHz.
const SPEEDS: [f64; 4] = [25.0 / 24.0, 24.0 / 25.0, 48.0 / 44.1, 44.1 / 48.0];
/// Other speeds are tried up to this far from the mix's, in these steps: tracks may slope by half.
const SPEED_RANGE: f64 = 0.08;
const SPEED_STEP: f64 = 0.004;
/// Mean likeness of a way without changes at which no other speed is tried, and by how much another
/// has to be likelier.
const STRAIGHT: f64 = 0.75;
const AS_LIKE: f64 = 0.05;
/// Other places of a piece that are kept, at most.
const MOST_OTHERS: usize = 4;

/// A line through places.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Track {
    /// Hops of the mix less hops of the export, at the export's beginning.
    pub offset: f64,
    /// What the offset gains a hop.
    pub slope: f64,
}

impl Track {
    pub fn offset_at(&self, hop: f64) -> f64 {
        self.offset + self.slope * hop
    }
}

/// Where the courses of level agree.
pub(in crate::compare) struct Rough {
    pub timeline: Timeline,
    /// By segment: other places at which the courses agree as well, as `mix_at_zero`. What is said or
    /// played again has the same course.
    pub others: Vec<Vec<f64>>,
    /// How much faster than the mix the export plays.
    pub speed: f64,
    /// Mean likeness of the windows that tell anything.
    pub likeness: f64,
}

/// Finds the way of an export through a mix; `None` where the features tell nothing. `rates_hz` are
/// those of the mix and of the export.
pub(in crate::compare) fn align(
    mix: &Features,
    export: &Features,
    frames: i64,
    rates_hz: [f64; 2],
) -> Option<Rough> {
    let straight = way(mix, export, MOST_WINDOWS);
    let rough = |speed: f64, (pieces, likeness): (Vec<Piece>, f64)| {
        let slope = pieces.first().map_or(0.0, |piece| piece.track.slope);
        let hop_frames = rates_hz[0] / HOPS_A_SECOND;
        let places =
            |piece: &Piece| piece.others.iter().map(|offset| offset * hop_frames).collect();
        let others = pieces.iter().map(places).collect();
        let timeline = timeline(&pieces, speed, frames, rates_hz);
        Rough { timeline, others, speed: (1.0 + slope) / speed, likeness }
    };
    if let Some((pieces, likeness)) = &straight
        && pieces.len() == 1
        && *likeness >= STRAIGHT
    {
        return straight.map(|found| rough(1.0, found));
    }
    let (straight_likeness, changes) =
        straight.as_ref().map_or((0.0, usize::MAX), |(pieces, likeness)| (*likeness, pieces.len()));
    let other = speeds()
        .filter_map(|speed| {
            let (_, likeness) = way(mix, &stretch(export, speed), FEW_WINDOWS)?;
            Some((likeness, speed))
        })
        .max_by(|a, b| a.0.total_cmp(&b.0));
    if let Some((_, speed)) = other
        && let Some((pieces, likeness)) = way(mix, &stretch(export, speed), MOST_WINDOWS)
    {
        let simpler = pieces.len() < changes && likeness >= straight_likeness - AS_LIKE;
        if likeness >= BELIEVABLE && (likeness > straight_likeness + AS_LIKE || simpler) {
            return Some(rough(speed, (pieces, likeness)));
        }
    }
    straight.filter(|(_, likeness)| *likeness >= BELIEVABLE).map(|found| rough(1.0, found))
}

/// Speeds that are tried: what mistaken rates and frame rates give, and all around in small steps.
fn speeds() -> impl Iterator<Item = f64> {
    let steps = (SPEED_RANGE / SPEED_STEP).round() as i32;
    let around = (-steps..=steps).filter(|n| *n != 0).map(|n| 1.0 + f64::from(n) * SPEED_STEP);
    SPEEDS.into_iter().chain(around)
}

/// A stretch of the export, in hops, on a track.
struct Piece {
    start: usize,
    end: usize,
    track: Track,
    /// Offsets of other tracks that are as like.
    others: Vec<f64>,
}

/// The pieces of the way, and the mean likeness of the windows that hold sound.
fn way(mix: &Features, export: &Features, most_windows: usize) -> Option<(Vec<Piece>, f64)> {
    let shorter = mix.hops().min(export.hops());
    let length = WINDOW_HOPS.min(shorter / 2);
    if length < LEAST_WINDOW_HOPS {
        return None;
    }
    let step = (length / OVERLAP).max(export.hops() / most_windows).max(1);
    let windows = Windows::new(export, length, step);
    let finds: Vec<Vec<Find>> = windows.find_in(mix);
    let tracks = tracks::through(&finds, &windows, export.hops());
    if tracks.is_empty() {
        return None;
    }
    // likeness[window][track]
    let likeness = windows.likeness(mix, &tracks);
    let chosen = cheapest(&likeness);
    let mut sum = 0.0;
    let mut count = 0.0;
    for (window, &track) in chosen.iter().enumerate() {
        if windows.tells(window) {
            sum += likeness[window][track].max(0.0);
            count += 1.0;
        }
    }
    let pieces = pieces(&chosen, &likeness, &windows, &tracks, export.hops());
    (count > 0.0 && !pieces.is_empty()).then(|| (pieces, sum / count))
}

/// The track of each window on the way with the most likeness and the fewest changes.
fn cheapest(likeness: &[Vec<f64>]) -> Vec<usize> {
    let tracks = likeness.first().map_or(0, Vec::len);
    let gain = |window: usize, track: usize| (likeness[window][track] - LEAST_LIKENESS).max(-0.2);
    let mut score: Vec<f64> = (0..tracks).map(|track| gain(0, track)).collect();
    let mut from: Vec<Vec<usize>> = Vec::with_capacity(likeness.len());
    for window in 1..likeness.len() {
        let best = (0..tracks).max_by(|&a, &b| score[a].total_cmp(&score[b])).unwrap_or(0);
        let changed = score[best] - CHANGE_COST;
        let origin: Vec<usize> =
            (0..tracks).map(|track| if score[track] >= changed { track } else { best }).collect();
        score = (0..tracks).map(|track| score[track].max(changed) + gain(window, track)).collect();
        from.push(origin);
    }
    let mut track = (0..tracks).max_by(|&a, &b| score[a].total_cmp(&score[b])).unwrap_or(0);
    let mut chosen = vec![track; likeness.len()];
    for window in (1..likeness.len()).rev() {
        track = from[window - 1][track];
        chosen[window - 1] = track;
    }
    chosen
}

/// Runs of windows on one track. Between two tracks the border lies halfway between the last window
/// that the one explains and the first that the other does; it is found more closely later.
fn pieces(
    chosen: &[usize],
    likeness: &[Vec<f64>],
    windows: &Windows,
    tracks: &[Track],
    hops: usize,
) -> Vec<Piece> {
    let mut pieces: Vec<Piece> = Vec::new();
    let mut start = 0;
    while start < chosen.len() {
        let track = chosen[start];
        let end = (start..chosen.len()).find(|&w| chosen[w] != track).unwrap_or(chosen.len());
        let explained: Vec<usize> =
            (start..end).filter(|&w| likeness[w][track] >= LEAST_LIKENESS).collect();
        if let (Some(&first), Some(&last)) = (explained.first(), explained.last()) {
            pieces.push(Piece {
                start: windows.middle(first),
                end: windows.middle(last),
                track: tracks[track],
                others: others(&likeness[first..=last], track, tracks),
            });
        }
        start = end;
    }
    for index in 1..pieces.len() {
        let border = (pieces[index - 1].end + pieces[index].start) / 2;
        pieces[index - 1].end = border;
        pieces[index].start = border;
    }
    if let Some(first) = pieces.first_mut() {
        first.start = 0;
    }
    if let Some(last) = pieces.last_mut() {
        last.end = hops;
    }
    pieces
}

/// Offsets of the tracks that are as like as the chosen one over some windows, the likest first.
fn others(likeness: &[Vec<f64>], chosen: usize, tracks: &[Track]) -> Vec<f64> {
    let mean = |track: usize| {
        likeness.iter().map(|of| of[track]).sum::<f64>() / likeness.len().max(1) as f64
    };
    let least = mean(chosen) - AS_LIKE;
    let mut found: Vec<(f64, f64)> = (0..tracks.len())
        .filter(|&track| track != chosen)
        .map(|track| (mean(track), tracks[track].offset))
        .filter(|(likeness, _)| *likeness >= least)
        .collect();
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found.truncate(MOST_OTHERS);
    found.into_iter().map(|(_, offset)| offset).collect()
}

/// The way in frames. `speed` is that of the stretched export's hops.
fn timeline(pieces: &[Piece], speed: f64, frames: i64, rates_hz: [f64; 2]) -> Timeline {
    let hop_frames = rates_hz.map(|rate_hz| rate_hz / HOPS_A_SECOND);
    // One clock: the tracks' slopes are the same.
    let slope = pieces.first().map_or(0.0, |piece| piece.track.slope);
    let step = rates_hz[0] / rates_hz[1] / speed * (1.0 + slope);
    let to_export = |hop: usize| (hop as f64 * speed * hop_frames[1]).round() as i64;
    let mut segments: Vec<Segment> = pieces
        .iter()
        .map(|piece| Segment {
            start: to_export(piece.start).min(frames),
            end: to_export(piece.end).min(frames),
            mix_at_zero: piece.track.offset * hop_frames[0],
        })
        .collect();
    if let Some(last) = segments.last_mut() {
        last.end = frames;
    }
    Timeline { segments, step }
}

/// Features at another speed: hop `h` is that at `h·speed`.
fn stretch(features: &Features, speed: f64) -> Features {
    let hops = (features.hops() as f64 / speed) as usize;
    let at = |values: &[f32], hop: usize| {
        let place = hop as f64 * speed;
        let (near, share) = (place as usize, place.fract() as f32);
        let value = |index: usize| values.get(index).copied().unwrap_or(0.0);
        value(near) + share * (value(near + 1) - value(near))
    };
    let all = |values: &[f32]| (0..hops).map(|hop| at(values, hop)).collect::<Vec<f32>>();
    Features { bands: features.bands.each_ref().map(|band| all(band)), power: all(&features.power) }
}
