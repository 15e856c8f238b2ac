//! Two things in which the framework's VST3 processor (nice-plug 0.4.2) differs from what hosts
//! may expect, mended by standing in front of two of its functions:
//!
//! * It hands on the processing mode of the `setupProcessing` before the last, so that an offline
//!   render would be taken for playback, and the playback after it for a render.
//! * It reads the side-chain's buffers without looking whether the host has passed any, or whether
//!   they point at anything.

use std::sync::OnceLock;

use nice_plug::wrapper::vst3::Wrapper;
use nice_plug::wrapper::vst3::vst3::ComWrapper;
use nice_plug::wrapper::vst3::vst3::Steinberg::Vst::{
    AudioBusBuffers, IAudioProcessor, IAudioProcessorVtbl, ProcessData, ProcessSetup,
};
use nice_plug::wrapper::vst3::vst3::Steinberg::tresult;

use crate::Ledgerline;

/// Input buses of the layouts that have most: main and side-chain.
const INPUTS: usize = 2;

/// The framework's functions, and ours in front of them.
struct Tables {
    original: IAudioProcessorVtbl,
    mended: IAudioProcessorVtbl,
}

static TABLES: OnceLock<Tables> = OnceLock::new();

/// Puts our functions in front of the framework's. To be called before anyone else has the object.
pub(super) fn mend(instance: &ComWrapper<Wrapper<Ledgerline>>) {
    let Some(processor) = instance.as_com_ref::<IAudioProcessor>() else {
        return;
    };
    let processor = processor.as_ptr();
    // SAFETY: the object is alive, and starts with a pointer to a table that lives as long as the
    // library, as every COM object does; reading the table copies function pointers.
    let original = unsafe { std::ptr::read((*processor).vtbl) };
    let tables = TABLES.get_or_init(|| {
        // SAFETY: function pointers are plain data; the copy is as good as the original.
        let mended = unsafe { std::ptr::read(&raw const original) };
        let mended = IAudioProcessorVtbl { setupProcessing: setup_processing, process, ..mended };
        Tables { original, mended }
    });
    // SAFETY: nobody else has the object yet, and the table lives as long as the library. It is
    // the framework's table for this very class but for two functions of the same types.
    unsafe { (*processor).vtbl = &raw const tables.mended };
}

/// Announces the setup twice: the second time, the mode of the first is what gets handed on.
unsafe extern "system" fn setup_processing(
    this: *mut IAudioProcessor,
    setup: *mut ProcessSetup,
) -> tresult {
    let Some(tables) = TABLES.get() else {
        return NOT_MENDED;
    };
    let original = tables.original.setupProcessing;
    // SAFETY: the arguments are the host's, for this very function; it only stores the setup.
    unsafe {
        original(this, setup);
        original(this, setup)
    }
}

/// Hands on the host's inputs with the side-chain made safe to read: without any channels where the
/// host has left it out or passes pointers to nothing.
unsafe extern "system" fn process(this: *mut IAudioProcessor, data: *mut ProcessData) -> tresult {
    let Some(tables) = TABLES.get() else {
        return NOT_MENDED;
    };
    let original = tables.original.process;
    // SAFETY: hosts pass a pointer to valid data, or null.
    let Some(given) = (unsafe { data.as_ref() }) else {
        // SAFETY: the argument is the host's, for this very function, which checks for null.
        return unsafe { original(this, data) };
    };
    let count = usize::try_from(given.numInputs).unwrap_or(0).min(INPUTS);
    if given.inputs.is_null() {
        // SAFETY: the argument is the host's, for this very function.
        return unsafe { original(this, data) };
    }
    // SAFETY: all-zero buses have no channels and no buffers, which is what is meant.
    let mut inputs: [AudioBusBuffers; INPUTS] = unsafe { std::mem::zeroed() };
    // SAFETY: `inputs` of the host has at least `count` buses, and ours no fewer.
    unsafe { std::ptr::copy_nonoverlapping(given.inputs, inputs.as_mut_ptr(), count) };
    for side_chain in &mut inputs[1..] {
        // SAFETY: the bus is the host's or all zero.
        if !unsafe { has_all_channels(side_chain) } {
            side_chain.numChannels = 0;
        }
    }
    // SAFETY: plain data; the copy is given back before the host's goes away.
    let mut completed = unsafe { std::ptr::read(given) };
    completed.inputs = inputs.as_mut_ptr();
    completed.numInputs = INPUTS as i32;
    // SAFETY: `completed` differs from the host's data only in `inputs`, which outlives the call.
    unsafe { original(this, &raw mut completed) }
}

/// Whether every channel of a bus points at something.
///
/// # Safety
///
/// The bus has as many channel pointers as it says, or no array of them.
unsafe fn has_all_channels(bus: &AudioBusBuffers) -> bool {
    let count = usize::try_from(bus.numChannels).unwrap_or(0);
    // SAFETY: the union holds a pointer whichever sample size is meant; both are read as such.
    let channels = unsafe { bus.__field0.channelBuffers32 };
    // SAFETY: the caller promises an array of that length, and a null one is not read.
    !channels.is_null() && (0..count).all(|index| unsafe { !(*channels.add(index)).is_null() })
}

/// Cannot happen: the functions here are reached through a table made by [`mend`] alone.
const NOT_MENDED: tresult = nice_plug::wrapper::vst3::vst3::Steinberg::kInternalError;
