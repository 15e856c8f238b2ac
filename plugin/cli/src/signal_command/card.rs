//! The card: all that somebody at a mixer needs to do the test and send the result.

use std::fmt::Write;

use ledgerline_measure::sum_test::USUAL_LEVEL_DBFS;
use ledgerline_measure::sum_test::schedule::{STEPS, Schedule};
use ledgerline_measure::words;

pub(super) fn text(schedule: &Schedule, level_dbfs: f64) -> String {
    let rate_hz = schedule.rate_hz();
    let time = |frames: u64| words::moment(frames as f64 / rate_hz, 2);
    let mut card = format!(
        "THE SUM TEST\n\
         ============\n\n\
         It shows whether a mixer adds two channels as it should, and what its meter reads.\n\
         It plays for {length}; setting up takes a few minutes. The files are for {rate};\n\
         the noise peaks at {level} dBFS.\n\n\
         CAUTION\n\
         -------\n\
         This is loud, dense noise, with an inaudible tone, and bursts. It harms ears and\n\
         burns out tweeters.\n\
         * Turn loudspeakers and headphones all the way down, or switch them off, before you start.\n\
         \u{20} The test needs none: watch the meter, do not listen.\n\
         * Take the test's two channels off every other bus: monitors, headphone mixes, streams,\n\
         \u{20} public address.\n\
         * Local codes on noise and the practice of licensed engineers come before anything here.\n\n\
         WHAT YOU NEED\n\
         -------------\n\
         * feed-1.wav and feed-2.wav, or feeds-stereo.wav, in which feed 1 is left and feed 2 right.\n\
         * A player of two channels that start together: two tracks of a session, or any stereo\n\
         \u{20} player for feeds-stereo.wav.\n\
         * A recorder on the mixer's output: a track, or any recorder.\n\n\
         SET UP\n\
         ------\n\
         1. Set the mixer or session to {rate}. If it runs at another rate, make files for it:\n\
         \u{20}  ledgerline signal FOLDER --rate 96000 (that rate in Hz).\n\
         2. Send feed 1 to one channel and feed 2 to another. Both must start at the same moment.\n\
         3. Set both channels alike: gain the same, faders at 0 dB (unity), pan in the middle; no\n\
         \u{20}  equaliser, filter, compressor, gate, limiter, delay or effect, on the channels and on\n\
         \u{20}  the bus. Fades, normalising and \"enhancing\" off in the player and the recorder.\n\
         4. Send both channels to one bus, and nothing else to it.\n\
         5. Record that bus, before any limiter, as WAV with 16 bits or more, mono or stereo. Do not\n\
         \u{20}  use MP3 or another format that leaves sound out.\n\
         6. Play the first half minute as a trial. The recording must never reach full scale (0 dBFS\n\
         \u{20}  or a red light): step 3 is the loudest. Turn the recorder down if it does, not the\n\
         \u{20}  channels.\n\n\
         DO IT\n\
         -----\n\
         1. Start the recorder.\n\
         2. Start the feeds from their very beginning, both together.\n\
         3. Touch nothing until they end. Clear the meter's held peaks in the silence before each\n\
         \u{20}  step, if it holds them.\n\
         4. If you want to know what kind of meter the mixer has, write down in the table below what\n\
         \u{20}  the bus meter shows in each step: on a steady sound where it settles, or the highest\n\
         \u{20}  peak if it holds peaks; on bursts the highest it reaches. Use one meter for all steps.\n\
         \u{20}  Play the test again for what you missed: it is the same each time.\n\
         5. Wait for the end (two short sweeps), then stop the recorder. Save the whole recording as\n\
         \u{20}  one file. Do not cut or normalise it.\n\n\
         JUDGE IT\n\
         --------\n\
         \u{20} ledgerline audit RECORDING.wav{option} --report report.html\n\
         and, with what the meter showed (as many steps as you have, three at least; step 4 tells\n\
         nothing about the meter):\n\
         \u{20} ledgerline audit RECORDING.wav{option} --shown 1=-24 2=-24 3=-18 5=-21 --resolution 1\n\
         --resolution says how finely you could read: 1 for whole decibels, 0.1 for tenths, 3 for\n\
         lamps that are 3 dB apart.\n\
         If you cannot run it, send the recording and this card to someone who can.\n\n\
         WHAT PLAYS WHEN\n\
         ---------------\n\
         Times count from the beginning of the feeds. Each step is followed by a short silence.\n\n\
         step  from     to       what plays                                shown, dB\n",
        option = level_option(level_dbfs),
        length = time(schedule.length_frames()),
        level = words::fixed(level_dbfs, 1),
        rate = words::frequency(rate_hz),
    );
    let row = |card: &mut String, step: &str, from: u64, to: u64, what: &str, blank: &str| {
        // Writing to a string cannot fail.
        let _ = writeln!(card, "{step:<5} {:<8} {:<8} {what:<41} {blank}", time(from), time(to));
    };
    let opening = schedule.opening_frames();
    let both = schedule.feed_lag_frames() + schedule.marker_frames();
    row(&mut card, "–", opening, opening + both, "two short sweeps", "");
    for (index, from) in schedule.step_starts() {
        let step = &STEPS[index];
        let to = from + schedule.step_frames();
        let blank = if step.is_null() { "(near silence)" } else { "________" };
        row(&mut card, &step.number.to_string(), from, to, step.name, blank);
    }
    let closing = schedule.closing_frames();
    row(&mut card, "–", closing, closing + both, "two short sweeps", "");
    card.push_str(
        "\nMixer: ______________________  Meter: ______________________  Date: ______________\n",
    );
    card
}

/// What the audit has to be told where the level is not the usual one.
fn level_option(level_dbfs: f64) -> String {
    if level_dbfs == USUAL_LEVEL_DBFS { String::new() } else { format!(" --level {level_dbfs}") }
}
