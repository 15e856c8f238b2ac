//! The card of the loop.

use ledgerline_measure::sum_test::pattern::USUAL_EACH_S;
use ledgerline_measure::sum_test::{NoiseKind, Pair, Pattern};
use ledgerline_measure::words;

use super::paper::Paper;
use super::setup;
use super::shown;

pub(super) fn text(pattern: &Pattern, rounds: u64, level_dbfs: f64, files: [&str; 3]) -> String {
    let rate_hz = pattern.rate_hz();
    let seconds = |frames: u64| frames as f64 / rate_hz;
    let each_s = seconds(pattern.each_frames());
    let noise = pattern.noise();
    let mut paper = Paper::new("THE LOOP: ONE PAIR OF NOISES AFTER ANOTHER");
    paper.text(&format!(
        "Shows on the mixer's own meter how two sounds add, without a switch and without a \
         recording: feed 1 plays a noise all the time, and feed 2 beside it the same noise, then an \
         independent one, then the same 100 ms late, then the same inverted, {} s each, over and over. \
         The files hold {} ({}) and have no seam: let the player repeat them. They are for {}, {} \
         noise with no peak above {} dBFS on either feed.",
        words::plain(each_s),
        words::counted(rounds, "round", "rounds"),
        words::moment(seconds(rounds * pattern.cycle_frames()), 0),
        words::frequency(rate_hz),
        noise.word(),
        words::fixed(level_dbfs, 1),
    ));
    setup::cautions(&mut paper, "");
    setup::stick(
        &mut paper,
        files,
        [
            "mono: for the first channel",
            "mono: for the second channel",
            "the same two in one file, feed 1 left and feed 2 right",
        ],
    );
    let option = option(noise, each_s);
    setup::mixer(&mut paper, files[2], &words::frequency(rate_hz), &option);
    paper.heading("DO IT");
    paper.steps(&[
        "Play, with the player on repeat. Bring the channels up to 0 dB while you watch the bus \
         meter; it must not reach its top.",
        "Watch the bus meter from pair to pair. Clear held peaks in the first second of each pair: \
         a meter that holds the loudest pair for ever shows no change.",
        "Name the pair that plays by the meter: it falls to its end while one feed is inverted, and \
         after that come the same noise and an independent one.",
        "For one noise alone, mute the second channel while the same noise plays.",
        "To show it to somebody, film the meter with a telephone for two rounds: the whole scale in \
         the picture, held still, and the player's counter or any clock with seconds beside it.",
    ]);
    paper.heading("WHAT PLAYS WHEN");
    paper.text(setup::BEFORE_PLAYING);
    paper.text("Times count from the beginning of the file, in every round anew.");
    let mut lines = vec![format!("{:<13} {:<9} {:<9} what plays", "pair", "from", "to")];
    for (pair, index) in Pair::ALL.into_iter().zip(0..) {
        let moment = |frames: u64| words::moment(seconds(frames), 1);
        let from = index * pattern.each_frames();
        let to = from + pattern.each_frames();
        lines.push(format!(
            "{:<13} {:<9} {:<9} {}",
            pair.word(),
            moment(from),
            moment(to),
            pair.name()
        ));
    }
    paper.lines(&lines);
    shown::table(&mut paper, pattern, level_dbfs);
    paper.heading("WHICH KIND OF METER IT IS");
    paper.text(
        "Note what the bus meter shows, one noise alone as well, and type it, whatever scale the \
         meter has:",
    );
    paper.lines(&[format!(
        "ledgerline meter --played loop --noise {} --shown alone=-10 same=-4 independent=-4",
        noise.word().to_lowercase()
    )]);
    paper.text(
        "There is nothing to judge in a recording of this: the test is for that. But each change in \
         one, and which kinds of meter show it, are told by",
    );
    paper.lines(&["ledgerline read --entries RECORDING.wav".into()]);
    paper.finish()
}

/// What was typed to make these files.
fn option(noise: NoiseKind, each_s: f64) -> String {
    let mut option = " --loop".to_owned();
    if noise != NoiseKind::default() {
        option += &format!(" --noise {}", noise.word().to_lowercase());
    }
    if each_s != USUAL_EACH_S {
        option += &format!(" --each {each_s}");
    }
    option
}
