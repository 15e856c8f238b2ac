//! A plugin double that passes audio and does as it is told meanwhile.

mod entry;

use std::sync::{Arc, Mutex};

use clack_host::entry::EntryDescriptor;
use nice_plug::prelude::*;

/// Something to do with a block, `[channel][frame]`.
pub type Work = Box<dyn FnMut(&mut [&mut [f32]]) + Send>;

/// What the double does with each block.
pub static WORK: Mutex<Option<Work>> = Mutex::new(None);

/// The double's entry, as a host finds it in a module.
pub fn entry() -> &'static EntryDescriptor {
    &entry::ENTRY
}

/// The double.
#[derive(Default)]
pub struct Double {
    params: Arc<NoParams>,
}

/// No parameters at all.
#[derive(Params, Default)]
struct NoParams {}

impl Plugin for Double {
    const NAME: &'static str = "Double";
    const VENDOR: &'static str = "Ledgerline";
    const URL: &'static str = "";
    const EMAIL: &'static str = "";
    const VERSION: &'static str = "1";
    const AUDIO_IO_LAYOUTS: &'static [AudioIOLayout] = &[AudioIOLayout {
        main_input_channels: std::num::NonZeroU32::new(2),
        main_output_channels: std::num::NonZeroU32::new(2),
        ..AudioIOLayout::const_default()
    }];

    type Editor = ();
    type SysExMessage = ();
    type BackgroundTask = ();

    fn params(&self) -> Arc<dyn Params> {
        self.params.clone()
    }

    fn process(
        &mut self,
        buffer: &mut Buffer,
        _aux: &mut AuxiliaryBuffers,
        _context: &mut impl ProcessContext<Self>,
    ) -> ProcessStatus {
        if let Ok(mut work) = WORK.lock() {
            work.iter_mut().for_each(|work| work(buffer.as_slice()));
        }
        ProcessStatus::Normal
    }
}

impl ClapPlugin for Double {
    const CLAP_ID: &'static str = "test.double";
    const CLAP_DESCRIPTION: Option<&'static str> = None;
    const CLAP_MANUAL_URL: Option<&'static str> = None;
    const CLAP_SUPPORT_URL: Option<&'static str> = None;
    const CLAP_FEATURES: &'static [ClapFeature] = &[ClapFeature::AudioEffect];
}
