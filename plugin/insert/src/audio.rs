//! The audio thread's side: measures what passes, publishes readings, feeds the log. While audio
//! plays, nothing here allocates, locks, waits or calls the system; an offline render may wait for
//! a meter.

mod passing;
mod transport;

use std::sync::Arc;
use std::time::Duration;

use ledgerline_measure::Reading;
use ledgerline_measure::entries::OpenedBy;
use ledgerline_measure::sum_test::audit::live::LiveShown;

use crate::background::{Background, Ends, Line, LineFeed, Moment};
use crate::bus::Bus;
use crate::choices::{Choices, Listen, SumTest};
use crate::handover::{Button, Buttons, Publisher, Snapshot};
use crate::layouts::{MOST_CHANNELS, MOST_SIDE_CHANNELS};
use crate::params::LedgerlineParams;
use crate::rebuild::Measuring;
use crate::rebuild::succession::Succession;
use crate::sum_test::bus::BusSide;
use crate::sum_test::feed::{FeedPlayer, Part, Wanted};
use crate::sum_test::place::Place;
use passing::Passing;

/// How often a second of audio the editor gets a snapshot.
const SNAPSHOTS_A_SECOND: f64 = 30.0;
/// How often a second of audio the table of the sum test is handed on.
const TABLES_A_SECOND: f64 = 8.0;
/// How long an offline render waits for a meter before it goes on with the old one.
const LONGEST_WAIT_MS: u32 = 2000;

/// For how long the host has to go on processing when the input falls silent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wakefulness {
    /// Not at all: the output is the input.
    WhileThereIsInput,
    /// For so many frames, as the output sounds on.
    After(u32),
    /// Always: silence is a part of what plays or of what is measured.
    Always,
}

/// What the plugin does with audio.
pub struct AudioSide {
    params: Arc<LedgerlineParams>,
    buttons: Arc<Buttons>,
    resets_seen: u32,
    undos_seen: u32,
    marks_seen: u32,
    bus: Option<Bus>,
    offline: bool,
    /// Whether the block before this one was rendered offline.
    was_offline: bool,
    succession: Succession,
    feed: FeedPlayer,
    bus_test: BusSide,
    background: Background,
    lines: LineFeed,
    log_forced: bool,
    /// Whether the log was on in the block before.
    logged: bool,
    /// Whether a line of the log has come since the latest reset.
    told: bool,
    publisher: Publisher,
    passing: Passing,
    frames_to_line: Countdown,
    frames_to_snapshot: Countdown,
    frames_to_table: Countdown,
    /// Whether the meter's filters hold anything that has not been left off.
    unfinished: bool,
    /// Whether anything has been measured since processing last stopped.
    running: bool,
}

impl AudioSide {
    /// The audio side of one instance, not yet active.
    #[must_use]
    pub fn new(
        params: Arc<LedgerlineParams>,
        buttons: Arc<Buttons>,
        publisher: Publisher,
        (background, ends): (Background, Ends),
    ) -> Self {
        let Ends { taker, bus_side, lines, history, log_forced } = ends;
        Self {
            params,
            resets_seen: buttons.reset.presses(),
            undos_seen: buttons.undo_reset.presses(),
            marks_seen: buttons.mark.presses(),
            buttons,
            bus: None,
            offline: false,
            was_offline: false,
            succession: Succession::new(taker),
            feed: FeedPlayer::new(0.0),
            bus_test: bus_side,
            background,
            lines,
            log_forced,
            logged: log_forced,
            told: false,
            publisher,
            passing: Passing::new(history),
            frames_to_line: Countdown::new(1.0),
            frames_to_snapshot: Countdown::new(1.0),
            frames_to_table: Countdown::new(1.0),
            unfinished: false,
            running: false,
        }
    }

    /// Gets ready for a bus. Readings of the same bus go on where they stopped, unless a render
    /// begins or ends: a render is measured by itself. Allocates.
    pub fn activate(&mut self, bus: Bus, offline: bool) {
        self.leave_off();
        self.succession.begin(bus.rate_hz);
        self.bus_test.discard();
        self.feed = FeedPlayer::new(bus.rate_hz);
        let settings = bus.fit(self.params.choices().settings());
        let goes_on = self.bus == Some(bus)
            && !self.offline
            && !offline
            && self.succession.meter().is_some()
            && self.succession.settings() == Some(settings);
        if !goes_on {
            let (measuring, error) = Measuring::build(bus, settings);
            self.background.tell_unmeasured(error);
            self.succession.put(measuring);
            self.bus = Some(bus);
            self.buttons.afresh.press();
            self.start_afresh();
            self.publish(&self.params.choices());
        }
        (self.offline, self.was_offline) = (offline, offline);
        self.passing.begin(self.background.activate(bus, settings, offline));
    }

    /// Ends processing: the last log line is on disk when this returns. Not for the audio thread.
    pub fn deactivate(&mut self) {
        self.stop();
        self.background.deactivate();
    }

    /// The host stops processing for now: the last line goes to the log.
    pub fn stop(&mut self) {
        self.feed.stop();
        self.succession.stop_listening();
        if self.running {
            self.running = false;
            self.bus_test.stop();
            self.leave_off();
            let choices = self.params.choices();
            self.publish(&choices);
            self.post_table(&choices);
            self.log_line(&choices, Moment::Stop);
        }
        self.passing.stop();
    }

    /// A render begins or ends while audio runs: it is measured by itself, from the next frame on.
    pub fn set_offline(&mut self, offline: bool) {
        if self.offline == offline {
            return;
        }
        let choices = self.params.choices();
        if self.unfinished {
            if let Some(meter) = self.succession.meter_mut() {
                meter.finish();
            }
            self.unfinished = false;
            self.log_line(&choices, Moment::Stop);
        }
        self.offline = offline;
        self.passing.tell(|stream| stream.render(offline));
        if let Some(meter) = self.succession.meter_mut() {
            meter.restart();
        }
        self.buttons.afresh.press();
        self.start_afresh();
        self.publish(&choices);
    }

    /// The transport may jump: what comes next does not go on from what came before, and nothing is
    /// read that would depend on the cut. A render ends here like a file. Readings stay.
    pub fn cut(&mut self) {
        if self.unfinished
            && let Some(meter) = self.succession.meter_mut()
        {
            if self.offline {
                meter.finish()
            } else {
                meter.splice()
            }
            self.passing.tell(|stream| stream.splice());
        }
        self.unfinished = false;
    }

    /// Measures what is still inside the filters: in a render as at the end of a file, elsewhere for
    /// as long as nothing more comes. Readings stay.
    fn leave_off(&mut self) {
        if self.unfinished
            && let Some(meter) = self.succession.meter_mut()
        {
            if self.offline { meter.finish() } else { meter.pause() }
        }
        self.unfinished = false;
    }

    /// Measures a block, and replaces it where a listening mode or a feed is on. Says what the host
    /// has to do for what comes next. `main[channel][frame]` and `side_chain[channel][frame]`; the
    /// transport stands at `place`.
    pub fn process(
        &mut self,
        main: &mut [&mut [f32]],
        side_chain: &[&[f32]],
        place: Place,
    ) -> Wakefulness {
        self.lines.audio_came();
        let choices = self.params.choices();
        if self.offline != self.was_offline {
            // A render begins with what belongs into it, and playback does not begin with the input
            // where something else is asked for.
            self.was_offline = self.offline;
            self.succession.stop_listening();
            self.feed.stop();
        }
        self.take_what_is_new(&choices, place);
        self.follow_log_switch(&choices);
        let frames = main.iter().map(|channel| channel.len()).min().unwrap_or(0);
        if !self.passing.follow(place, frames, self.bus.map(|bus| bus.rate_hz))
            && let Some(meter) = self.succession.meter_mut()
        {
            meter.splice();
        }
        if choices.bypass {
            self.bus_test.stop();
        }
        self.measure(main, side_chain, &choices, place);
        let silenced = choices.bypass || self.offline;
        let listen = if silenced { Listen::Off } else { choices.listen };
        self.succession.set_limit(choices.clip_at, choices.ceiling_db);
        self.succession.listen(listen, main);
        let feed = self.wanted_feed(&choices);
        self.feed.process(feed, place, main);
        let hears_bus = choices.sum_test == SumTest::Bus && !choices.bypass;
        if feed.is_some() || hears_bus {
            return Wakefulness::Always;
        }
        match self.succession.tail_frames().max(self.feed.tail_frames()) {
            0 => Wakefulness::WhileThereIsInput,
            frames => Wakefulness::After(u32::try_from(frames).unwrap_or(u32::MAX)),
        }
    }

    /// The feed that replaces the output. In an offline render there is none unless the user says
    /// otherwise: a feed that was forgotten must not end up in a mix.
    fn wanted_feed(&self, choices: &Choices) -> Wanted {
        let silenced = choices.bypass || (self.offline && !choices.feed_offline);
        let feed = choices.sum_test.feed().filter(|_| !silenced)?;
        let repeats = choices.feeds_play.noise().map(|noise| (noise, choices.pair_s));
        Some(Part { feed, level_dbfs: choices.feed_level_dbfs, repeats })
    }

    fn take_what_is_new(&mut self, choices: &Choices, place: Place) {
        self.take_measuring();
        self.bus_test.exchange(choices.hears_test());
        if self.offline {
            self.wait_for(choices);
            self.wait_for_test(choices, place);
        }
        if new_presses(&self.buttons.mark, &mut self.marks_seen) > 0 {
            self.passing.tell(|stream| stream.open(OpenedBy::Mark));
        }
        let resets = new_presses(&self.buttons.reset, &mut self.resets_seen);
        let undos = new_presses(&self.buttons.undo_reset, &mut self.undos_seen);
        if resets > 0 {
            self.passing.tell(|stream| stream.open(OpenedBy::Reset));
            if let Some(meter) = self.succession.meter_mut() {
                meter.reset();
            }
            self.told = false;
            self.start_afresh();
            self.publish(choices);
        }
        // Of presses that came while nothing was processed, the last is a reset where there are more.
        if undos > 0 && undos >= resets {
            self.undo_reset(choices);
        }
    }

    /// Takes the latest reset back, if it is not too late.
    fn undo_reset(&mut self, choices: &Choices) {
        let Some(meter) = self.succession.meter_mut() else { return };
        let overs = meter.overs();
        if !meter.undo_reset() {
            return;
        }
        self.passing.undo_reset(overs, meter);
        // Rows that count from before would follow those that count from the reset.
        if self.told {
            self.push_line(choices, Moment::Undo);
        }
        self.publish(choices);
    }

    /// Waits for the meter that new settings ask for. In an offline render a second of audio can
    /// pass faster than a meter is made, and nobody is listening.
    fn wait_for(&mut self, choices: &Choices) {
        let Some(bus) = self.bus else { return };
        let wanted = bus.fit(choices.settings());
        for _ in 0..LONGEST_WAIT_MS {
            if self.succession.settings().is_none_or(|settings| settings == wanted) {
                return;
            }
            self.lines.audio_came();
            std::thread::sleep(Duration::from_millis(1));
            self.take_measuring();
        }
    }

    /// Takes a meter that was made for new settings, if there is one.
    fn take_measuring(&mut self) {
        if !self.succession.take() {
            return;
        }
        // It hears a sound that another has heard the beginning of.
        if std::mem::take(&mut self.unfinished)
            && let Some(meter) = self.succession.meter_mut()
        {
            meter.join_midway();
        }
        self.passing.settings(self.succession.settings());
        self.buttons.afresh.press();
        self.start_afresh();
    }

    /// Waits for the sum test that the background makes, for the same reason, where one may begin.
    fn wait_for_test(&mut self, choices: &Choices, place: Place) {
        let begins = self.feed.can_begin(place);
        if !choices.hears_test() || !begins {
            return;
        }
        for _ in 0..LONGEST_WAIT_MS {
            if self.bus_test.is_ready() {
                return;
            }
            self.lines.audio_came();
            std::thread::sleep(Duration::from_millis(1));
            self.bus_test.exchange(true);
        }
    }

    /// Cuts the block where a second or a snapshot is due, so that what is logged does not depend
    /// on how the host cuts the stream.
    fn measure(
        &mut self,
        main: &[&mut [f32]],
        side_chain: &[&[f32]],
        choices: &Choices,
        place: Place,
    ) {
        let frames = main.iter().map(|channel| channel.len()).min().unwrap_or(0);
        let mut start = 0;
        while start < frames {
            let length = self.frames_to_line.left.min(frames - start);
            let end = start + length;
            let mut main_piece: [&[f32]; MOST_CHANNELS] = [&[]; MOST_CHANNELS];
            let main_count = cut(main.iter().map(|c| &**c), start, end, &mut main_piece);
            let mut side_piece: [&[f32]; MOST_SIDE_CHANNELS] = [&[]; MOST_SIDE_CHANNELS];
            // A side-chain that the host leaves out can be of any length; it counts as silent.
            let side_is_whole = side_chain.iter().all(|channel| channel.len() >= end);
            let side_count = match side_is_whole {
                true => cut(side_chain.iter().copied(), start, end, &mut side_piece),
                false => 0,
            };
            let Some(meter) = self.succession.meter_mut() else { return };
            let (main_piece, side_piece) = (&main_piece[..main_count], &side_piece[..side_count]);
            if self.offline {
                let lines = &self.lines;
                self.passing.wait_for_space(length, LONGEST_WAIT_MS, || lines.audio_came());
            }
            self.passing.push(main_piece, side_piece, choices.bypass);
            meter.set_ceiling_db(choices.ceiling_db);
            meter.set_your_meter(choices.your_meter().map(|meter| meter.kind));
            meter.clip_at(choices.clip_at);
            self.unfinished = true;
            if choices.bypass {
                // The filters run on, so that what follows can be read from its first frame.
                meter.pass(main_piece, side_piece);
            } else {
                meter.process(main_piece, side_piece);
                self.bus_test.process(place.after(start), main_piece);
                self.running = true;
            }
            let host_s = place.after(end).playing_at_s(self.bus.map(|bus| bus.rate_hz));
            self.passing.measured(length as f64 / meter.rate_hz(), meter, host_s);
            if !choices.bypass && self.frames_to_line.pass(length) {
                self.end_second(choices, host_s);
            }
            if self.frames_to_snapshot.pass(length) {
                self.publish(choices);
            }
            if self.frames_to_table.pass(length) {
                self.post_table(choices);
            }
            start = end;
        }
    }

    /// A second has passed.
    fn end_second(&mut self, choices: &Choices, host_s: Option<f64>) {
        let Some(meter) = self.succession.meter() else { return };
        let delay_s = meter.delay_frames() as f64 / meter.rate_hz();
        let snapshot = Snapshot::of(meter, choices);
        self.passing.keep(snapshot, delay_s, host_s);
        if self.logs(choices) {
            self.push(snapshot.reading, choices, Moment::Second { host_s });
        }
    }

    fn start_afresh(&mut self) {
        let rate_hz = self.bus.map_or(0.0, |bus| bus.rate_hz);
        self.frames_to_line = Countdown::new(rate_hz);
        self.frames_to_snapshot = Countdown::new(rate_hz / SNAPSHOTS_A_SECOND);
        self.frames_to_table = Countdown::new(rate_hz / TABLES_A_SECOND);
    }

    fn publish(&mut self, choices: &Choices) {
        self.publisher.publish(match self.succession.meter() {
            Some(meter) => Snapshot::of(meter, choices),
            None => Snapshot::default(),
        });
    }

    /// Switched off, the log ends with everything that is known, as when processing stops.
    fn follow_log_switch(&mut self, choices: &Choices) {
        let logs = self.logs(choices);
        if self.logged && !logs && self.running {
            self.push_line(choices, Moment::Stop);
        }
        self.logged = logs;
    }

    fn log_line(&mut self, choices: &Choices, moment: Moment) {
        if self.logs(choices) {
            self.push_line(choices, moment);
        }
    }

    fn logs(&self, choices: &Choices) -> bool {
        self.log_forced || choices.log
    }

    fn push_line(&mut self, choices: &Choices, moment: Moment) {
        if let Some(reading) = self.succession.meter().map(|meter| meter.reading(&choices.view())) {
            self.push(reading, choices, moment);
        }
    }

    fn push(&mut self, reading: Reading, choices: &Choices, moment: Moment) {
        self.lines.push(Line { reading, sum_test: self.bus_shown(choices), moment });
        self.told = true;
    }

    fn post_table(&mut self, choices: &Choices) {
        self.bus_test.post(choices.hears_test());
    }

    /// What the sum test has found out, where this instance hears the bus.
    fn bus_shown(&self, choices: &Choices) -> Option<LiveShown> {
        choices.hears_test().then(|| *self.bus_test.shown())
    }
}

/// How often a button was pressed since it was `seen`.
fn new_presses(button: &Button, seen: &mut u32) -> u32 {
    let presses = button.presses();
    presses.wrapping_sub(std::mem::replace(seen, presses))
}

/// Collects the same stretch of every channel, and says of how many.
fn cut<'a>(
    channels: impl Iterator<Item = &'a [f32]>,
    start: usize,
    end: usize,
    pieces: &mut [&'a [f32]],
) -> usize {
    let mut count = 0;
    for (piece, channel) in pieces.iter_mut().zip(channels) {
        *piece = channel.get(start..end).unwrap_or(&[]);
        count += 1;
    }
    count
}

/// Frames until something is due again and again.
struct Countdown {
    every: usize,
    left: usize,
}

impl Countdown {
    fn new(every: f64) -> Self {
        // At an absurd rate nothing is measured, and this is never asked.
        let every = (every.round() as usize).max(1);
        Self { every, left: every }
    }

    /// Lets frames pass and says whether it has become due.
    fn pass(&mut self, frames: usize) -> bool {
        if frames < self.left {
            self.left -= frames;
            return false;
        }
        let over = (frames - self.left) % self.every;
        self.left = self.every - over;
        true
    }
}

#[cfg(test)]
mod tests;
