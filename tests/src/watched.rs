//! An instance of the plugin without a host: what its editor would be given of a sound.

use std::sync::Arc;

use ledgerline::audio::AudioSide;
use ledgerline::background::Background;
use ledgerline::boards::Boards;
use ledgerline::bus::Bus;
use ledgerline::choices::Choices;
use ledgerline::entries::board::Told;
use ledgerline::handover::{Buttons, Snapshot, Subscriber, handover};
use ledgerline::history::History;
use ledgerline::log::Log;
use ledgerline::params::LedgerlineParams;
use ledgerline::status::Status;
use ledgerline::sum_test::place::Place;

use crate::signals::Stereo;

/// Frames of a block.
const BLOCK_FRAMES: usize = 512;

/// What the editor is given.
#[derive(Clone)]
pub struct Watched {
    /// What is read at the end.
    pub snapshot: Snapshot,
    /// What was.
    pub history: History,
    /// The entries; all of them have ended.
    pub entries: Told,
}

/// The instance.
pub struct Instance {
    audio: AudioSide,
    buttons: Arc<Buttons>,
    boards: Arc<Boards>,
    subscriber: Subscriber,
    rate_hz: f64,
    frames: i64,
}

impl Instance {
    /// An instance on a bus of so many channels that is rendered, as nobody waits for it in real time.
    #[must_use]
    pub fn new(rate_hz: f64, channels: usize) -> Self {
        Self::choosing(rate_hz, channels, Choices::default())
    }

    /// An instance on a bus of so many channels that plays in real time: where something is late, it
    /// goes on without it.
    #[must_use]
    pub fn live(rate_hz: f64, channels: usize) -> Self {
        Self::made(rate_hz, channels, Choices::default(), false)
    }

    /// A rendered instance with parameters that are not the defaults.
    #[must_use]
    pub fn choosing(rate_hz: f64, channels: usize, choices: Choices) -> Self {
        Self::made(rate_hz, channels, choices, true)
    }

    fn made(rate_hz: f64, channels: usize, choices: Choices, offline: bool) -> Self {
        let status = Arc::new(Status::default());
        let buttons = Arc::new(Buttons::default());
        let params =
            Arc::new(LedgerlineParams::starting_with(choices, buttons.clone(), status.clone()));
        let (publisher, subscriber) = handover();
        let boards = Arc::new(Boards::default());
        let background = Background::new(params.clone(), status, boards.clone(), Log::new(None));
        let mut audio = AudioSide::new(params, buttons.clone(), publisher, background);
        audio.activate(Bus { rate_hz, main: channels, side_chain: 0 }, offline);
        Self { audio, buttons, boards, subscriber, rate_hz, frames: 0 }
    }

    /// Plays channels of one length, while the host's transport runs.
    pub fn play(&mut self, channels: &[&[f32]]) -> &mut Self {
        let frames = channels.first().map_or(0, |channel| channel.len());
        for from in (0..frames).step_by(BLOCK_FRAMES) {
            let to = (from + BLOCK_FRAMES).min(frames);
            let mut block: Vec<Vec<f32>> =
                channels.iter().map(|channel| channel[from..to].to_vec()).collect();
            let mut block: Vec<&mut [f32]> = block.iter_mut().map(Vec::as_mut_slice).collect();
            self.process(&mut block);
        }
        self
    }

    /// Plays a block, `[channel][frame]`, as an audio thread does.
    pub fn process(&mut self, block: &mut [&mut [f32]]) {
        let place = Place { playing_at: Some(self.frames), loop_frames: None };
        self.audio.process(block, &[], place);
        self.frames += block.first().map_or(0, |channel| channel.len()) as i64;
    }

    /// Plays silence.
    pub fn silence(&mut self, seconds: f64) -> &mut Self {
        let silence = vec![0.0; (seconds * self.rate_hz) as usize];
        self.play(&[&silence, &silence])
    }

    /// The host stops processing, and goes on.
    pub fn stop(&mut self) -> &mut Self {
        self.audio.stop();
        self
    }

    /// The user's mark.
    pub fn mark(&mut self) -> &mut Self {
        self.buttons.mark.press();
        self
    }

    /// The user's reset.
    pub fn reset(&mut self) -> &mut Self {
        self.buttons.reset.press();
        self
    }

    /// Takes the user's latest reset back.
    pub fn undo_reset(&mut self) -> &mut Self {
        self.buttons.undo_reset.press();
        self
    }

    /// What the editor is given when no more comes.
    pub fn watched(&mut self) -> Watched {
        self.audio.deactivate();
        Watched {
            snapshot: *self.subscriber.latest(),
            history: self.boards.history.lock().clone(),
            entries: self.boards.entries.latest(),
        }
    }
}

/// What the editor is given of a sound.
#[must_use]
pub fn watch(sound: &Stereo) -> Watched {
    Instance::new(sound.rate_hz, 2).play(&sound.channels()).watched()
}
