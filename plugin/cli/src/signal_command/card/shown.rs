//! What each kind of meter shows of the loop's pairs, as measured of the ideal sum.

use ledgerline_measure::Level;
use ledgerline_measure::detector::Detector;
use ledgerline_measure::sum_test::pattern::EACH_RANGE_S;
use ledgerline_measure::sum_test::{BAND_WORDS, Pair, Pattern};
use ledgerline_measure::words;

use super::paper::Paper;

/// Peaks are held over so many seconds of each pair at most: what comes later is rare.
const MOST_HELD_S: f64 = 10.0;
/// A meter that moves less does not move, for whoever looks at it, in dB.
const UNMOVED_DB: f64 = 1.0;

/// What is expected of each kind of meter in each pair, and by how much it changes.
pub(super) fn table(paper: &mut Paper, pattern: &Pattern, level_dbfs: f64) {
    let noise = pattern.noise();
    let held_s =
        (pattern.each_frames() as f64 / pattern.rate_hz()).clamp(EACH_RANGE_S.0, MOST_HELD_S);
    let measured = Pattern::new(pattern.rate_hz() as u32, noise, held_s);
    let shown = measured.map_or_else(Vec::new, |pattern| pattern.shown(level_dbfs));
    let level = |pair: Pair, band: usize, detector: Detector| -> Level {
        let pair = Pair::ALL.iter().position(|other| *other == pair).unwrap_or(0);
        shown.get(pair).map_or(Level::NONE, |shown| shown[band][detector as usize])
    };
    paper.heading("WHAT A METER SHOWS");
    paper.text(&format!(
        "Measured of an ideal sum of these two files, {} noise, each pair for {} s: the same noise \
         as a meter in dBFS (loudness: LUFS of one channel) shows it, and by how many decibels each \
         kind of meter moves from there. Peaks are held, the others settle. One noise alone shows \
         6.0 dB less than the same noise on both, whatever the meter; inverted, every meter falls to \
         its end, as far as both channels are alike.",
        noise.word(),
        words::plain(held_s),
    ));
    let mut lines = vec![format!(
        "{:<35} {:>8} {:>12} {:>9}",
        "kind of meter", "same", "independent", "delayed"
    )];
    let mut still = Vec::new();
    for (band, name) in BAND_WORDS.iter().enumerate() {
        for detector in Detector::ALL {
            let same = level(Pair::Same, band, detector);
            let change = |pair| level(pair, band, detector).minus(same);
            let kind = format!("{}, {name}", detector.word());
            lines.push(format!(
                "{kind:<35} {:>8} {:>12} {:>9}",
                words::level(same, 1),
                words::change(change(Pair::Independent), 1),
                words::change(change(Pair::Delayed), 1)
            ));
            let moved = change(Pair::Independent).finite();
            if moved.is_some_and(|db| db.abs() < UNMOVED_DB) {
                still.push(kind);
            }
        }
    }
    paper.lines(&lines);
    paper.text(&told(&still));
}

/// What the table comes to.
fn told(still: &[String]) -> String {
    let energy = "The energy falls by 3.0 dB from the same noise to independent noises: twice the \
                  power in place of four times. RMS and loudness show it.";
    if still.is_empty() {
        return format!(
            "{energy} On this noise every other kind moves as well, by the decibels above."
        );
    }
    format!(
        "{energy} By less than {} dB move: {}. The sum is right there too: the largest samples of \
         two such noises meet now and then.",
        words::fixed(UNMOVED_DB, 0),
        words::list(still)
    )
}
