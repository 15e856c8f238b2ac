//! What is left when nothing else explains it: steady noise, a hum, DC, or something that follows the
//! sound.

use crate::compare::pass::{Block, CrossSpectra, Curve};

/// Blocks judged together: a fifth of a second.
const MOMENT: usize = 20;
const LEAST_MOMENTS: usize = 15;
/// How little what is left moves over time, in dB, and how much more the sound does: half the range
/// of the middle four fifths; and the one against the other.
const STEADY_DB: f64 = 1.5;
const MOVING_DB: f64 = 1.5;
const STEADIER: f64 = 0.4;
/// How much the level of blocks moves at most, in dB, likewise: white noise moves by less than half of one.
const EVEN_DB: f64 = 2.5;
/// Share of what is left that tones hold for it to be a hum, and the mains' frequencies.
const HUM_SHARE: f64 = 0.8;
const MAINS_HZ: [f64; 2] = [50.0, 60.0];
const HARMONICS: usize = 20;
/// How much a hum's level moves over time at most, in dB: half the range of the middle four fifths.
const HUM_STEADY_DB: f64 = 2.0;
/// What goes with the prediction in the quieter half of the blocks, as a share of what differs there, from
/// which noise was taken away and none added; how many chances away from none; and frames that go together.
const TAKEN: f64 = -0.5;
const CHANCES: f64 = 2.0;
const TOGETHER_FRAMES: f64 = 50.0;
/// Share of what is left that is DC.
const DC_SHARE: f64 = 0.8;

/// What it is.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(in crate::compare) struct Rest {
    /// Whether it stays at one level while the sound moves.
    pub steady: bool,
    /// The mains' frequency whose multiples it is made of, in Hz.
    pub hum_hz: Option<f64>,
    /// Whether most of it is DC.
    pub dc: bool,
    /// Whether the sound moves enough to tell.
    pub telling: bool,
}

pub(super) fn find(
    blocks: &[Block],
    counts: &[bool],
    spectra: &CrossSpectra,
    curve: &Curve,
) -> Rest {
    let mut levels: [Vec<f64>; 2] = [Vec::new(), Vec::new()];
    let mut fine = Vec::new();
    for (blocks, counts) in blocks.chunks(MOMENT).zip(counts.chunks(MOMENT)) {
        if counts.iter().any(|counts| !counts) {
            continue;
        }
        let sum = |of: fn(&Block) -> f32| blocks.iter().map(|b| f64::from(of(b))).sum::<f64>();
        let (heard, left) = (sum(|b| b.predicted), sum(|b| b.rest));
        if left > 0.0 {
            fine.extend(blocks.iter().map(|b| 10.0 * f64::from(b.rest).max(1e-30).log10()));
            levels[0].push(10.0 * heard.max(1e-30).log10());
            levels[1].push(10.0 * left.log10());
        }
    }
    let left: &[f64] = if spectra.rr.is_empty() { &spectra.ee } else { &spectra.rr };
    let total: f64 = left.iter().sum();
    let samples: f64 = curve.classes.iter().map(|class| class.count).sum();
    let mean = curve.classes.iter().map(|class| class.difference).sum::<f64>() / samples.max(1.0);
    let dc = curve.squares > 0.0 && mean * mean * samples > DC_SHARE * curve.squares;
    if levels[0].len() < LEAST_MOMENTS {
        return Rest { dc, ..Rest::default() };
    }
    let [sound_db, left_db] = levels.map(spread_db);
    // Dense music stays at its level over moments, but not within them.
    let is_even = spread_db(fine) <= EVEN_DB;
    let telling = sound_db >= MOVING_DB;
    let is_level = left_db <= HUM_STEADY_DB;
    let hum_hz = MAINS_HZ.into_iter().filter(|_| is_level).find(|mains| {
        let tones: f64 = (1..=HARMONICS)
            .map(|n| {
                let hz = mains * n as f64;
                spectra.power(left, hz - 2.5 * spectra.bin_hz, hz + 2.5 * spectra.bin_hz)
            })
            .sum();
        // As much lies there by chance as these bands are wide.
        let end_hz = spectra.bin_hz * left.len() as f64;
        let chance = HARMONICS as f64 * 5.0 * spectra.bin_hz / end_hz;
        total > 0.0 && tones / total > HUM_SHARE + chance
    });
    let steady =
        left_db <= STEADY_DB.min(STEADIER * sound_db) && is_even && !is_taken(blocks, counts);
    Rest { steady, hum_hz, dc, telling }
}

/// Whether what differs in quiet moments is sound of the mix that the export does not have.
fn is_taken(blocks: &[Block], counts: &[bool]) -> bool {
    let counted = blocks.iter().zip(counts).filter(|(_, counts)| **counts);
    let mut quiet: Vec<&Block> = counted.map(|(block, _)| block).collect();
    quiet.sort_by(|a, b| a.zz.total_cmp(&b.zz));
    quiet.truncate(quiet.len() / 2);
    let sum = |of: &dyn Fn(&Block) -> f64| quiet.iter().map(|block| of(block)).sum::<f64>();
    let (zz, zy) = (sum(&|b| f64::from(b.zz)), sum(&|b| f64::from(b.zy)));
    let differs = sum(&|b| f64::from(b.yy)) - 2.0 * zy + zz;
    let chance =
        (zz * differs.max(0.0) * TOGETHER_FRAMES / sum(&|b| f64::from(b.frames)).max(1.0)).sqrt();
    zy - zz < TAKEN * differs - CHANCES * chance
}

/// Half the range of the middle four fifths.
fn spread_db(mut levels: Vec<f64>) -> f64 {
    levels.sort_by(f64::total_cmp);
    let at = |share: f64| levels[(share * (levels.len() - 1) as f64).round() as usize];
    (at(0.9) - at(0.1)) / 2.0
}
