//! Ledgerline as a CLAP and VST3 insert for a mix bus: it measures what passes, passes it on bit
//! for bit, and shows what the meter reads beside what is audible.
//!
//! The plugin type and its callbacks stand here. [`audio`] is what happens on the audio thread,
//! [`background`] what must not happen there, [`editor`] the window.

pub mod audio;
pub mod background;
pub mod boards;
pub mod bus;
pub mod choices;
pub mod destination;
pub mod editor;
pub mod entries;
pub mod errands;
mod export;
mod gestures;
pub mod handover;
pub mod history;
pub mod host_link;
mod in_common;
pub mod layouts;
pub mod listen;
pub mod log;
pub mod params;
pub mod rebuild;
pub mod side_chain;
pub mod status;
pub mod sum_test;
pub mod typed;

use std::sync::Arc;

use nice_plug::prelude::*;

use crate::audio::{AudioSide, Wakefulness};
use crate::background::Background;
use crate::boards::Boards;
use crate::bus::Bus;
use crate::editor::LedgerlineEditor;
use crate::handover::{Buttons, handover};
use crate::host_link::HostLink;
use crate::log::Log;
use crate::params::LedgerlineParams;
use crate::status::Status;
use crate::sum_test::desk::Desk;
use crate::sum_test::place::Place;

/// The plugin.
pub struct Ledgerline {
    params: Arc<LedgerlineParams>,
    link: Arc<HostLink>,
    /// Until the framework asks for it.
    editor: Option<LedgerlineEditor>,
}

impl Default for Ledgerline {
    fn default() -> Self {
        let status = Arc::new(Status::default());
        let buttons = Arc::new(Buttons::default());
        let params = Arc::new(LedgerlineParams::new(buttons.clone(), status.clone()));
        let (publisher, subscriber) = handover();
        let boards = Arc::new(Boards::default());
        let log = Log::of_environment();
        let desk = Desk::new(log.destination().clone());
        let background = Background::new(params.clone(), status.clone(), boards.clone(), log);
        let audio = AudioSide::new(params.clone(), buttons.clone(), publisher, background);
        let link = HostLink::new(params.clone(), audio);
        let editor = LedgerlineEditor::new(
            params.clone(),
            status,
            buttons,
            subscriber,
            boards,
            desk,
            link.clone(),
        );
        Self { params, link, editor: Some(editor) }
    }
}

impl Plugin for Ledgerline {
    const NAME: &'static str = "Ledgerline";
    const VENDOR: &'static str = "Ledgerline";
    const URL: &'static str = "";
    const EMAIL: &'static str = "";
    const VERSION: &'static str = env!("CARGO_PKG_VERSION");

    const AUDIO_IO_LAYOUTS: &'static [AudioIOLayout] = layouts::ALL;

    type Editor = LedgerlineEditor;
    type SysExMessage = ();
    type BackgroundTask = ();

    fn params(&self) -> Arc<dyn Params> {
        self.params.clone()
    }

    fn editor(&mut self, _executor: AsyncExecutor<Self>) -> Option<LedgerlineEditor> {
        self.editor.take()
    }

    fn filter_state(state: &mut PluginState) {
        params::saved::filter(state);
    }

    fn activate(
        &mut self,
        layout: &AudioIOLayout,
        config: &BufferConfig,
        _context: &mut impl ActivateContext<Self>,
    ) -> bool {
        let bus = Bus::new(layout, config.sample_rate, self.link.side_channels());
        self.link.audio().activate(bus, self.link.is_offline());
        true
    }

    /// Hosts call this when the transport stops or jumps. A meter that forgot then would be of no
    /// use, so readings stay; the Reset parameter clears them.
    fn reset(&mut self) {
        if let Some(mut audio) = self.link.audio_at_once() {
            audio.cut();
        }
    }

    fn process(
        &mut self,
        buffer: &mut Buffer,
        _aux: &mut AuxiliaryBuffers,
        context: &mut impl ProcessContext<Self>,
    ) -> ProcessStatus {
        let shared = self.link.audio_at_once().zip(self.link.side_chain_at_once());
        let Some((mut audio, mut side_chain)) = shared else {
            return ProcessStatus::Normal;
        };
        let (side_chain, count) = side_chain.take(buffer.samples());
        let place = Place::of(context.transport());
        audio.set_offline(self.link.is_offline());
        match audio.process(buffer.as_slice(), &side_chain[..count], place) {
            Wakefulness::WhileThereIsInput => ProcessStatus::Normal,
            Wakefulness::After(frames) => ProcessStatus::Tail(frames),
            Wakefulness::Always => ProcessStatus::KeepAlive,
        }
    }

    fn stop_processing(&mut self) {
        if let Some(mut audio) = self.link.audio_at_once() {
            audio.stop();
        }
    }

    fn deactivate(&mut self) {
        self.link.audio().deactivate();
    }
}

impl ClapPlugin for Ledgerline {
    const CLAP_ID: &'static str = "audio.ledgerline.ledgerline";
    const CLAP_DESCRIPTION: Option<&'static str> =
        Some("Shows what a bus meter reads beside what is audible, and the room that is left");
    const CLAP_MANUAL_URL: Option<&'static str> = None;
    const CLAP_SUPPORT_URL: Option<&'static str> = None;
    const CLAP_FEATURES: &'static [ClapFeature] = &[
        ClapFeature::AudioEffect,
        ClapFeature::Analyzer,
        ClapFeature::Utility,
        ClapFeature::Mono,
        ClapFeature::Stereo,
        ClapFeature::Surround,
    ];
}

impl Vst3Plugin for Ledgerline {
    const VST3_CLASS_ID: [u8; 16] = *b"LedgerlineOnBus1";
    const VST3_SUBCATEGORIES: &'static [Vst3SubCategory] =
        &[Vst3SubCategory::Fx, Vst3SubCategory::Analyzer];
}
