//! The card of the test, in every form and at every pace.

use ledgerline_measure::detector::Detector;
use ledgerline_measure::sum_test::schedule::{Form, STEPS, Schedule};
use ledgerline_measure::sum_test::{Step, USUAL_LEVEL_DBFS, expectations};
use ledgerline_measure::words;

use super::paper::{Paper, together};
use super::setup;

/// How long before a step's end a film is paused, in seconds.
const PAUSE_BEFORE_END_S: f64 = 0.5;

pub(super) fn text(schedule: &Schedule, level_dbfs: f64, files: [&str; 3]) -> String {
    let rate = words::frequency(schedule.rate_hz());
    let short = schedule.form() == Form::Short;
    let mut paper = Paper::new(if short { "THE SUM TEST, SHORT FORM" } else { "THE SUM TEST" });
    paper.text(&format!(
        "{} It plays for {}, with a new step every {} s. The files are for {rate}; the noise peaks \
         at {} dBFS.",
        if short {
            "Shows whether a mixer adds two channels as it should: the quick check before a show. \
             The full test also tells what kind of meter the mixer has."
        } else {
            "Shows whether a mixer adds two channels as it should, and what kind of meter it has."
        },
        words::moment(schedule.length_frames() as f64 / schedule.rate_hz(), 0),
        words::plain(schedule.slot_s()),
        words::fixed(level_dbfs, 1),
    ));
    setup::cautions(&mut paper, if short { "" } else { ", with an inaudible tone, and bursts" });
    setup::stick(
        &mut paper,
        files,
        [
            "mono: feed 1, for the first channel",
            "mono: feed 2, for the second channel",
            "the same two in one file, feed 1 left and feed 2 right",
        ],
    );
    setup::mixer(&mut paper, files[2], &rate, &options(schedule));
    ways(&mut paper, short);
    reading(&mut paper, schedule);
    table(&mut paper, schedule);
    if short {
        expected(&mut paper, schedule);
    }
    judge(&mut paper, schedule, level_dbfs);
    paper.lines(&[
        "Mixer: _______________________  Bus: _______________________  Date: ________________"
            .into(),
        "Meter: _______________________  Read to (dB): ______________".into(),
    ]);
    paper.finish()
}

/// How it is played, recorded, noted or filmed.
fn ways(paper: &mut Paper, short: bool) {
    paper.heading("CHOOSE YOUR WAY");
    paper.text(if short {
        "A recording of the bus tells whether the mixer adds. What its meter shows from step to step \
         can be held against the numbers below."
    } else {
        "A recording of the bus tells whether the mixer adds. Numbers from its meter tell what kind \
         of meter it is. Do one or both, in one pass."
    });
    paper.text(
        "1. One stick, and a desk that plays and records at once (or two tracks of a session)",
    );
    paper.points(&[
        "Try it: start a recording of the bus, then play. Where one stops the other, or the desk \
         asks for a second stick, take another way.",
        "Record the bus itself, before any limiter, as WAV of 16 bits or more, mono or stereo.",
        "Start the recorder, then the feeds from their very beginning. Touch nothing until they have \
         ended, with two short sweeps; then stop the recorder.",
    ]);
    paper.text("2. One stick, and a desk that only plays: write down what its meter shows");
    paper.points(&[
        "Play from the very beginning, go by the times below, and fill in the last column. Play it \
         again for what you missed: it is the same each time.",
    ]);
    paper.text("3. A telephone that films the meter");
    paper.points(&[
        "Fix it so that the whole scale of the bus meter fills the picture and the player's counter \
         is in it: that tells which step plays. Without a counter, put a clock with seconds beside \
         it and start the player on a full minute.",
        "Hold focus and exposure fixed, so that lamps do not bloom. Start filming, then play.",
        if short {
            "Read the film afterwards: pause it at the times below, in the last second of each step."
        } else {
            "Read the film afterwards: pause it at the times below, in the last second of each step. \
             In steps marked \"highest\" play it slowly, and note the highest that is shown."
        },
        "The telephone's sound is no recording of the bus: leave it out.",
    ]);
    paper.text("4. A second recorder on the bus's output");
    paper.points(&[
        "It may run on its own clock. Start it before the feeds, stop it after them.",
        "Record WAV of 16 bits or more. MP3 and other formats that leave sound out will not do. \
         Automatic level, limiter, low cut and noise reduction off.",
        "Set its level in a trial: step 3 is the loudest, and must never \
         reach full scale (0 dBFS or a red light). Turn down the recorder, not the channels.",
        "Save the whole recording as one file. Do not cut or normalise it.",
    ]);
}

/// How the meter is read.
fn reading(paper: &mut Paper, schedule: &Schedule) {
    paper.heading("READ THE METER");
    let paced = schedule.slot_s() > schedule.form().usual_slot_s();
    let clear = if paced {
        "Clear held peaks before each step, in the silence; at this pace the first second of a step \
         will do, except where bursts play."
            .to_owned()
    } else {
        let short = if schedule.form() == Form::Short { " --short" } else { "" };
        format!(
            "Clear held peaks before each step, in the silence. If there is no time for that, make \
             slower files: {}",
            together(&format!("ledgerline signal FOLDER{short} --pace 15"))
        )
    };
    let bursts = schedule.steps().iter().any(|&step| STEPS[step].is_bursts());
    let mut points = vec![
        "Keep to one meter for all steps, in the order of the table. Note the numbers of its own \
         scale, whatever that is.",
        &clear,
        "Read a steady sound where the meter settles, or the peak that it holds.",
    ];
    if bursts {
        points.push("Read bursts (marked \"highest\") by the highest that the meter reaches.");
    }
    points.push(
        "Read as finely as the scale lets you: tenths if it shows numbers with tenths, whole \
         decibels on a scale, the lamp that is lit on a row of lamps. Note beside it how finely.",
    );
    paper.points(&points);
}

fn table(paper: &mut Paper, schedule: &Schedule) {
    paper.heading("WHAT PLAYS WHEN");
    paper.text(setup::BEFORE_PLAYING);
    paper.text(
        "Times count from the beginning of the feeds. Each step is followed by a short silence.",
    );
    let seconds = |frames: u64| frames as f64 / schedule.rate_hz();
    let time = |frames: u64| words::moment(seconds(frames), 2);
    let row = |step: &str, from: &str, to: &str, pause: &str, what: &str, blank: &str| {
        format!("{step:<4} {from:<8} {to:<8} {pause:<9} {what:<42} {blank}")
    };
    let both = schedule.feed_lag_frames() + schedule.marker_frames();
    let sweeps = |from: u64| row("–", &time(from), &time(from + both), "", "two short sweeps", "");
    let mut lines = vec![row("step", "from", "to", "pause at", "what plays", "shown, dB")];
    lines.push(sweeps(schedule.opening_frames()));
    for (index, from) in schedule.step_starts() {
        let step = &STEPS[index];
        let to = from + schedule.step_frames();
        let pause = if step.is_bursts() {
            "highest".to_owned()
        } else {
            words::moment(seconds(to) - PAUSE_BEFORE_END_S, 1)
        };
        let number = step.number.to_string();
        lines.push(row(&number, &time(from), &time(to), &pause, step.name, blank(step)));
    }
    lines.push(sweeps(schedule.closing_frames()));
    paper.lines(&lines);
}

/// Where the reading is written.
fn blank(step: &Step) -> &'static str {
    if step.is_null() { "(near silence)" } else { "________" }
}

/// By how much each kind of meter falls where the same noise becomes two independent ones.
fn expected(paper: &mut Paper, schedule: &Schedule) {
    let Some(expectations) = expectations(schedule.rate_hz() as u32) else { return };
    let step = |number: usize| number - 1;
    paper.heading("WHAT A METER SHOWS FROM STEP 3 TO STEP 5");
    paper.text(
        "Measured of an ideal sum, in decibels. The energy falls by 3.0 dB; where a meter shows \
         less, the sum is still right.",
    );
    let lines = Detector::ALL.map(|detector| {
        let level = |number| expectations.level(step(number), 0, detector, USUAL_LEVEL_DBFS);
        format!("{:<20} {:>5}", detector.word(), words::change(level(5).minus(level(3)), 1))
    });
    paper.lines(&lines);
}

fn judge(paper: &mut Paper, schedule: &Schedule, level_dbfs: f64) {
    let level = level_option(level_dbfs);
    paper.heading("JUDGE IT");
    paper.text("A recording:");
    paper.lines(&[format!("ledgerline audit RECORDING.wav{level} --report report.html")]);
    paper.text(
        "That holds the channels to the limits of a digital mixer (0.05 dB, 0.1 samples). For an \
         analogue desk (1 dB, 100 µs):",
    );
    paper.lines(&[format!("ledgerline audit RECORDING.wav{level} --limits analogue")]);
    if schedule.form() == Form::Full {
        paper.text(
            "A recording, and what the meter showed in at least three steps besides step 4, which \
             tells nothing about a meter:",
        );
        paper.lines(&[format!(
            "ledgerline audit RECORDING.wav{level} --shown 1=-24 2=-24 3=-18 5=-21 --resolution 1"
        )]);
        paper.text(
            "Only what the meter showed, by number or by name (1 alone, 3 same, 5 independent):",
        );
        paper.lines(&[
            "ledgerline meter --played schedule --shown 1=-10 3=-4 5=-4 --resolution 1".into()
        ]);
        paper.text(
            "--resolution says how finely you could read: 1 for whole decibels, 0.1 for tenths, 3 \
             for lamps that are 3 dB apart.",
        );
    }
    paper.text("If you cannot run it, send the recording or your numbers, and this card, to someone who can.");
}

/// What was typed to make these files.
fn options(schedule: &Schedule) -> String {
    let form = schedule.form();
    let mut option = if form == Form::Short { " --short".to_owned() } else { String::new() };
    if schedule.slot_s() != form.usual_slot_s() {
        option += &format!(" --pace {}", schedule.slot_s());
    }
    option
}

/// What the audit has to be told where the level is not the usual one.
fn level_option(level_dbfs: f64) -> String {
    if level_dbfs == USUAL_LEVEL_DBFS { String::new() } else { format!(" --level {level_dbfs}") }
}
