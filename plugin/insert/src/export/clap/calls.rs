//! What hosts call of an instance: the framework's functions, behind ours where the framework
//! (nice-plug 0.4.2) differs from what hosts may expect. The framework's functions find their
//! instance through `plugin_data` alone, so ours carries the same and both work on either.

use std::ffi::{CStr, c_char, c_void};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, OnceLock};

use clap_sys::audio_buffer::clap_audio_buffer;
use clap_sys::host::clap_host;
use clap_sys::plugin::clap_plugin;
use clap_sys::process::{CLAP_PROCESS_ERROR, clap_process, clap_process_status};
use nice_plug::wrapper::clap::Wrapper;

use super::instance::Instance;
use super::ports::{INPUT, SIDE_CHAIN};
use super::{extensions, state};
use crate::Ledgerline;
use crate::export::channels::{HostChannels, complete, hand_over};
use crate::host_link::HostLink;

/// A new instance, which lives until the host destroys it.
///
/// # Safety
///
/// `host` describes the host and outlives the instance.
pub(super) unsafe fn create(host: *const clap_host) -> *const clap_plugin {
    // SAFETY: as promised by the caller. The reference is given back in `destroy`.
    let wrapper = Arc::into_raw(unsafe { Wrapper::<Ledgerline>::new(host) });
    // SAFETY: the wrapper lives until then, and nobody borrows its functions; copying them
    // copies pointers.
    let framework = unsafe { *(*wrapper).clap_plugin.as_ptr() };
    let Some(link) = HostLink::newest() else { return std::ptr::null() };
    let plugin = clap_plugin {
        destroy: Some(destroy),
        activate: Some(activate),
        deactivate: Some(deactivate),
        process: Some(process),
        get_extension: Some(get_extension),
        ..framework
    };
    let active = AtomicBool::new(false);
    let instance = Instance {
        plugin,
        framework,
        host,
        link,
        active,
        gui: OnceLock::new(),
        params_table: OnceLock::new(),
    };
    Box::into_raw(Box::new(instance)).cast_const().cast()
}

unsafe extern "C" fn destroy(plugin: *const clap_plugin) {
    if plugin.is_null() {
        return;
    }
    // SAFETY: the host destroys what `create` has made, once, and does not use it again.
    unsafe {
        let instance = Box::from_raw(plugin.cast::<Instance>().cast_mut());
        if let Some(destroy) = instance.framework.destroy {
            destroy(instance.plugin());
        }
    }
}

unsafe extern "C" fn activate(
    plugin: *const clap_plugin,
    rate_hz: f64,
    least_frames: u32,
    most_frames: u32,
) -> bool {
    // SAFETY: the host speaks of its instance.
    let Some(instance) = (unsafe { Instance::of(plugin) }) else { return false };
    let Some(activate) = instance.framework.activate else { return false };
    instance.link.prepare_side_chain(most_frames as usize);
    // SAFETY: the arguments are the host's, for the framework's function of this name.
    let active = unsafe { activate(plugin, rate_hz, least_frames, most_frames) };
    instance.active.store(active, Ordering::Relaxed);
    active
}

unsafe extern "C" fn deactivate(plugin: *const clap_plugin) {
    // SAFETY: the host speaks of its instance.
    let Some(instance) = (unsafe { Instance::of(plugin) }) else { return };
    if let Some(deactivate) = instance.framework.deactivate {
        // SAFETY: the argument is the host's, for the framework's function of this name.
        unsafe { deactivate(plugin) };
    }
    instance.active.store(false, Ordering::Relaxed);
}

/// Hands on a block of which every channel is there: the host's, or silence. What loading has
/// switched off is off before its first event.
unsafe extern "C" fn process(
    plugin: *const clap_plugin,
    block: *const clap_process,
) -> clap_process_status {
    // SAFETY: the host speaks of its instance, and passes a block, or null.
    let (Some(instance), Some(given)) = (unsafe { (Instance::of(plugin), block.as_ref()) }) else {
        return CLAP_PROCESS_ERROR;
    };
    let Some(process) = instance.framework.process.filter(|_| instance.is_active()) else {
        return CLAP_PROCESS_ERROR;
    };
    // SAFETY: the events are the host's for this block.
    unsafe { state::settle(instance.link.params(), given.out_events) };
    let frames = given.frames_count as usize;
    let port = |buffers: *const clap_audio_buffer, count: u32, index: u32| {
        if buffers.is_null() || index >= count {
            return HostChannels::NONE;
        }
        // SAFETY: hosts pass as many ports as they state, with as many channels as each states, of
        // as many frames as the block has; all live as long as the call.
        unsafe {
            let buffer = &*buffers.add(index as usize);
            HostChannels::new(buffer.data32, buffer.channel_count as usize, frames)
        }
    };
    let input = port(given.audio_inputs, given.audio_inputs_count, INPUT);
    let output = port(given.audio_outputs, given.audio_outputs_count, 0);
    let side_chain = port(given.audio_inputs, given.audio_inputs_count, SIDE_CHAIN);
    hand_over(&instance.link, side_chain, frames);

    let channels = instance.link.main_bus().channels();
    let mut main = complete(input, output, channels);
    let (input, mut output) = match &mut main {
        Some(main) => (buffer(&mut main.inputs[..channels]), buffer(&mut main.outputs[..channels])),
        None => (buffer(&mut []), buffer(&mut [])),
    };
    let whole = u32::from(main.is_some());
    let completed = clap_process {
        audio_inputs: &raw const input,
        audio_inputs_count: whole,
        audio_outputs: &raw mut output,
        audio_outputs_count: whole,
        ..*given
    };
    if whole == 1 {
        // SAFETY: the host has passed an output. It may hold a feed where the input is constant.
        unsafe { (*given.audio_outputs).constant_mask = 0 };
    }
    // SAFETY: `completed` is the host's block but for the ports, which outlive the call.
    unsafe { process(plugin, &raw const completed) }
}

/// A port of these channels.
fn buffer(channels: &mut [*mut f32]) -> clap_audio_buffer {
    clap_audio_buffer {
        data32: channels.as_mut_ptr(),
        data64: std::ptr::null_mut(),
        channel_count: channels.len() as u32,
        latency: 0,
        constant_mask: 0,
    }
}

unsafe extern "C" fn get_extension(plugin: *const clap_plugin, id: *const c_char) -> *const c_void {
    // SAFETY: the host speaks of its instance.
    let Some(instance) = (unsafe { Instance::of(plugin) }) else { return std::ptr::null() };
    if id.is_null() {
        return std::ptr::null();
    }
    // SAFETY: hosts pass a text that ends with a zero.
    if let Some(own) = extensions::own(instance, unsafe { CStr::from_ptr(id) }) {
        return own;
    }
    match instance.framework.get_extension {
        // SAFETY: the arguments are the host's, for the framework's function of this name.
        Some(get_extension) => unsafe { get_extension(plugin, id) },
        None => std::ptr::null(),
    }
}
