//! Whether the waveform is bent by its height: clipping and soft clipping.

use crate::compare::pass::{Class, Curve};

/// Samples that a class needs.
const LEAST_COUNT: f64 = 8.0;
/// Share of the largest height below which a sample is small: there the curve is straight.
const SMALL: f64 = 0.25;
/// Share of the difference, once the straight part is taken out, that the curve has to explain.
const EXPLAINED: f64 = 0.7;
/// Bend at the top that is worth telling, in dB.
const LEAST_DB: f64 = 0.2;
/// Classes at the top that have to come out at one height for it to be cut off, and how near.
const FLAT_CLASSES: usize = 3;
const FLAT: f64 = 0.01;

/// Share of all that differs that samples above a cut hold, how near to one height they come out, and
/// how far below the highest prediction that is at most.
const CUT_SHARE: f64 = 0.97;
const CUT_FLAT: f64 = 0.02;
const CUT_BELOW: f64 = 0.97;

/// Peaks from this share of the highest on, where nothing is cut off; and the share of what peaks lose, in
/// dB, from which what small samples lose beside them is a gain.
const TALL: f64 = 0.85;
const GAIN_SHARE: f64 = 0.4;

/// A bend.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::compare) struct Bend {
    /// Gain of small samples against the prediction, in dB.
    pub small_db: f64,
    /// Gain of the largest samples against small ones, in dB; negative where they are lower.
    pub top_db: f64,
    /// Height at which it is cut off, linear; `None` where it bends softly.
    pub cut_off: Option<f64>,
}

/// Finds it.
pub(super) fn find(curve: &Curve) -> Option<Bend> {
    cut_off(curve).or_else(|| bent(curve)).filter(|bend| !is_gain(curve, bend))
}

/// Whether small samples lose beside the highest peaks what those lose: then the gain goes down there,
/// and the waveform is not bent.
fn is_gain(curve: &Curve, bend: &Bend) -> bool {
    let step = curve.highest / curve.beside.len().max(1) as f64;
    let most = 10f64.powf((bend.small_db + bend.top_db) / 20.0);
    let small = 10f64.powf(bend.small_db / 20.0);
    // Peaks that lose half of what the highest do, or more, lie above this.
    let from = match bend.cut_off {
        Some(height) => height / small * (small / most).sqrt(),
        None => {
            let top = curve.beside.iter().rposition(|beside| beside.zz > 0.0).unwrap_or(0);
            TALL * (top + 1) as f64 * step
        }
    };
    let tall = curve.beside.iter().skip((from / step) as usize);
    let (zz, zy) = tall.fold((0.0, 0.0), |(zz, zy), beside| (zz + beside.zz, zy + beside.zy));
    zz > 0.0 && zy > 0.0 && 20.0 * (zy / zz / small).log10() < GAIN_SHARE * bend.top_db
}

/// Samples that are the prediction up to a height, and all come out at one height above it.
fn cut_off(curve: &Curve) -> Option<Bend> {
    let mut classes: Vec<Class> =
        curve.classes.iter().copied().filter(|class| class.count > 0.0).collect();
    let height = |class: &Class| class.predicted.abs() / class.count;
    let heard = |class: &Class| (class.predicted + class.difference).abs() / class.count;
    classes.sort_by(|a, b| height(b).total_cmp(&height(a)));
    let largest = classes.first().map(height)?;
    let mut above = 0.0;
    let cut = classes.iter().position(|class| {
        above += class.squares;
        above >= CUT_SHARE * curve.squares
    })?;
    let (top, rest) = classes.split_at(cut + 1);
    // The class in which the cut lies holds samples of either kind.
    let flat = top.get(..cut)?;
    let ceiling = flat.iter().map(heard).fold(0.0, f64::max);
    let is_flat = flat.iter().all(|class| heard(class) >= (1.0 - CUT_FLAT) * ceiling);
    let is_rare = flat.iter().map(|c| c.count).sum::<f64>() < rest.iter().map(|c| c.count).sum();
    let found = flat.len() >= FLAT_CLASSES
        && is_flat
        && is_rare
        && curve.squares > 0.0
        && ceiling > 0.0
        && ceiling < CUT_BELOW * largest;
    found.then(|| Bend {
        small_db: 0.0,
        top_db: 20.0 * (ceiling / largest).log10(),
        cut_off: Some(ceiling),
    })
}

/// A curve through the means of the classes that explains most of what differs.
fn bent(curve: &Curve) -> Option<Bend> {
    let classes: Vec<Class> =
        curve.classes.iter().copied().filter(|class| class.count >= LEAST_COUNT).collect();
    let mean = |class: &Class| class.predicted / class.count;
    // DC is no bend.
    let samples: f64 = curve.classes.iter().map(|class| class.count).sum();
    let offset = curve.classes.iter().map(|class| class.difference).sum::<f64>() / samples.max(1.0);
    let difference = |class: &Class| class.difference / class.count - offset;
    let largest = classes.iter().map(|class| mean(class).abs()).fold(0.0, f64::max);
    let (mut xx, mut xy) = (0.0, 0.0);
    for class in classes.iter().filter(|class| mean(class).abs() <= SMALL * largest) {
        xx += class.predicted * mean(class);
        xy += class.count * difference(class) * mean(class);
    }
    if xx <= 0.0 || largest <= 0.0 {
        return None;
    }
    let slope = xy / xx;
    // What the straight part makes of all samples, the curve, and what scatters around it.
    let (mut straight, mut bent, mut along) = (0.0, 0.0, 0.0);
    for class in &classes {
        let (x, e) = (mean(class), difference(class));
        straight += class.count * (slope * x).powi(2);
        bent += class.count * (e - slope * x).powi(2);
        along += class.count * slope * x * e;
    }
    let left = curve.squares - samples * offset * offset - 2.0 * along + straight;
    if left <= 0.0 || bent < EXPLAINED * left {
        return None;
    }
    let small = 1.0 + slope;
    let top = |side: f64| {
        let own = classes.iter().filter(|class| mean(class) * side > 0.0);
        let mut heights: Vec<(f64, f64)> =
            own.map(|class| (mean(class).abs(), (mean(class) + difference(class)).abs())).collect();
        heights.sort_by(|a, b| b.0.total_cmp(&a.0));
        heights
    };
    let sides = [top(1.0), top(-1.0)];
    let gain_db = |heights: &Vec<(f64, f64)>| {
        let (x, y) = heights.first()?;
        (*x > 0.0 && *y > 0.0).then(|| 20.0 * (y / (x * small)).log10())
    };
    let top_db = sides.iter().filter_map(gain_db).fold(0.0, f64::min);
    if top_db > -LEAST_DB || small <= 0.0 {
        return None;
    }
    // Where it is cut off, the highest classes come out at one height.
    let flat = |heights: &Vec<(f64, f64)>| {
        let ceiling = heights.first()?.1;
        let at = heights.iter().take_while(|(_, y)| (y / ceiling - 1.0).abs() <= FLAT).count();
        let range = heights.get(at.checked_sub(1)?)?.0 / heights.first()?.0;
        (at >= FLAT_CLASSES && range < 0.97).then_some(ceiling)
    };
    let cut_off = sides.iter().filter_map(flat).fold(None, |held: Option<f64>, ceiling| {
        Some(held.map_or(ceiling, |held| held.max(ceiling)))
    });
    Some(Bend { small_db: 20.0 * small.log10(), top_db, cut_off })
}
