//! Straight lines through the places at which windows were found: the same offset, or one that
//! moves steadily because the clocks differ.

use std::collections::HashMap;

use super::Track;
use super::search::{Find, Windows};

/// Clocks differ by no more than this.
const MOST_SLOPE: f64 = 2.2e-3;
/// Offsets closer than this, in hops, belong to one track.
const BIN_HOPS: f64 = 3.0;
/// Most tracks that are looked at.
const MOST_TRACKS: usize = 24;
/// Weight of a track that is worth a look: two good windows.
const LEAST_WEIGHT: f64 = 0.3;
/// How much better another slope has to be than none.
const SLOPE_MARGIN: f64 = 1.05;
/// A slope that moves the whole file by fewer hops is left to the anchors.
const LEAST_HOPS: f64 = 4.0;

/// The likeliest tracks, all of one slope.
pub(super) fn through(finds: &[Vec<Find>], windows: &Windows, hops: usize) -> Vec<Track> {
    let places: Vec<(f64, Find)> = finds
        .iter()
        .enumerate()
        .flat_map(|(window, finds)| {
            finds.iter().map(move |find| (windows.middle(window) as f64, *find))
        })
        .collect();
    let slope = slope(&places, hops);
    let mut bins: Vec<(i64, f64)> = bins(&places, slope).into_iter().collect();
    bins.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let mut tracks: Vec<Track> = Vec::new();
    for (bin, weight) in bins {
        if weight < LEAST_WEIGHT || tracks.len() == MOST_TRACKS {
            break;
        }
        let middle = bin as f64 * BIN_HOPS;
        let (mut sum, mut total) = (0.0, 0.0);
        for (hop, find) in &places {
            let offset = find.offset as f64 - slope * hop;
            if (offset - middle).abs() <= BIN_HOPS {
                sum += weight_of(find) * offset;
                total += weight_of(find);
            }
        }
        let offset = if total > 0.0 { sum / total } else { middle };
        if tracks.iter().all(|track| (track.offset - offset).abs() > BIN_HOPS) {
            tracks.push(Track { offset, slope });
        }
    }
    tracks
}

fn weight_of(find: &Find) -> f64 {
    find.likeness * find.likeness
}

/// Weight of the places by offset, once the slope is taken out.
fn bins(places: &[(f64, Find)], slope: f64) -> HashMap<i64, f64> {
    let mut bins = HashMap::new();
    for (hop, find) in places {
        let bin = ((find.offset as f64 - slope * hop) / BIN_HOPS).round() as i64;
        *bins.entry(bin).or_insert(0.0) += weight_of(find);
    }
    bins
}

/// The slope that gathers the places into the fewest tracks.
fn slope(places: &[(f64, Find)], hops: usize) -> f64 {
    let sharpness = |slope: f64| -> f64 { bins(places, slope).values().map(|w| w * w).sum() };
    let step = 2.0 / hops.max(1) as f64;
    let steps = (MOST_SLOPE / step) as i64;
    let best = (-steps..=steps)
        .map(|k| k as f64 * step)
        .map(|slope| (sharpness(slope), slope))
        .max_by(|a, b| a.0.total_cmp(&b.0));
    match best {
        Some((sharp, slope))
            if sharp > SLOPE_MARGIN * sharpness(0.0) && slope.abs() * hops as f64 >= LEAST_HOPS =>
        {
            slope
        }
        _ => 0.0,
    }
}
