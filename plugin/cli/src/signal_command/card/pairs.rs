//! The card of two noises for a test of one's own.

use ledgerline_measure::sum_test::Pattern;
use ledgerline_measure::words;

use super::paper::Paper;
use super::setup;
use super::shown;

pub(super) fn text(pattern: &Pattern, length_s: f64, level_dbfs: f64, files: [&str; 3]) -> String {
    let rate = words::frequency(pattern.rate_hz());
    let noise = pattern.noise();
    let typed = noise.word().to_lowercase();
    let mut paper = Paper::new("TWO NOISES FOR A TEST OF YOUR OWN");
    paper.text(&format!(
        "Two {} noises that have nothing in common, with no peak above {} dBFS. They are \
         {} long, for {rate}, and have no seam: let the player repeat them. You make the pairs at \
         the mixer, switch, and look at the meter.",
        noise.word(),
        words::fixed(level_dbfs, 1),
        words::duration(length_s),
    ));
    setup::cautions(&mut paper, "");
    setup::stick(
        &mut paper,
        files,
        [
            "mono: the first noise",
            "mono: the second noise, independent of the first",
            "the same two in one file, the first left and the second right",
        ],
    );
    let option = format!(" --pairs --noise {typed}");
    setup::mixer(&mut paper, files[2], &rate, &option);
    paper.heading("MAKE THE PAIRS");
    paper.text(setup::BEFORE_PLAYING);
    paper.lines(&[
        "alone        the first noise on the first channel; the second channel muted".into(),
        "same         the first noise on both channels: patch it to both".into(),
        "independent  the first noise on the first channel, the second on the second".into(),
        "inverted     as same, and the polarity button of one channel pressed".into(),
        "delayed      as same, and 100 ms of delay on one channel".into(),
    ]);
    paper.steps(&[
        "Play, on repeat. Bring the channels up to 0 dB while you watch the bus meter; it must not \
         reach its top.",
        "Make a pair, clear held peaks, wait a few seconds, and note what the bus meter shows. Keep \
         to one meter.",
        "Switch to the next pair and back as often as you like: the noise goes on.",
    ]);
    shown::table(&mut paper, pattern, level_dbfs);
    paper.heading("WHICH KIND OF METER IT IS");
    paper.text("Type what the meter showed, whatever scale it has:");
    paper.lines(&[format!(
        "ledgerline meter --played own --noise {typed} --shown alone=-10 same=-4 independent=-4"
    )]);
    paper.finish()
}
