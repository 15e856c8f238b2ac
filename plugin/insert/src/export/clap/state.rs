//! States, and parameters that the host sets while there are no blocks. What another version has
//! saved goes back to where it was ([`mark`]); what loading switches off is set to off, and told.

use std::ffi::{CStr, c_char, c_void};

use clap_sys::events::{
    CLAP_CORE_EVENT_SPACE_ID, CLAP_EVENT_DONT_RECORD, CLAP_EVENT_PARAM_VALUE, clap_event_header,
    clap_event_param_value, clap_input_events, clap_output_events,
};
use clap_sys::ext::params::{CLAP_EXT_PARAMS, clap_plugin_params};
use clap_sys::ext::state::{CLAP_EXT_STATE, clap_plugin_state};
use clap_sys::id::clap_id;
use clap_sys::plugin::clap_plugin;
use clap_sys::stream::{clap_istream, clap_ostream};

use super::instance::Instance;
use crate::export::{asked, texts};
use crate::params::{LedgerlineParams, mark};

/// Length of what the framework writes before a state: how long that is, in bytes.
const LENGTH_BYTES: usize = 8;

static TABLE: clap_plugin_state = clap_plugin_state { save: Some(save), load: Some(load) };

/// The extensions that are ours.
pub(super) fn extension(instance: &Instance, id: &CStr) -> Option<*const c_void> {
    if id == CLAP_EXT_STATE {
        return Some((&raw const TABLE).cast());
    }
    if id == CLAP_EXT_PARAMS {
        let framework = instance.framework_extension::<clap_plugin_params>(CLAP_EXT_PARAMS)?;
        let table = clap_plugin_params {
            text_to_value: Some(text_to_value),
            flush: Some(flush),
            ..*framework
        };
        return Some(std::ptr::from_ref(instance.params_table.get_or_init(|| table)).cast());
    }
    None
}

/// Sets to off what loading has switched off, and tells the host.
///
/// # Safety
///
/// `events` is null or the host's for what it has called.
pub(super) unsafe fn settle(params: &LedgerlineParams, events: *const clap_output_events) {
    asked::settle(params, |id| {
        // SAFETY: as promised by the caller.
        let Some(out) = (unsafe { events.as_ref() }) else { return };
        let event = clap_event_param_value {
            header: clap_event_header {
                size: size_of::<clap_event_param_value>() as u32,
                time: 0,
                space_id: CLAP_CORE_EVENT_SPACE_ID,
                type_: CLAP_EVENT_PARAM_VALUE,
                // It is no automation that anybody wrote.
                flags: CLAP_EVENT_DONT_RECORD,
            },
            param_id: id,
            cookie: std::ptr::null_mut(),
            note_id: -1,
            port_index: -1,
            channel: -1,
            key: -1,
            value: 0.0,
        };
        if let Some(push) = out.try_push {
            // SAFETY: the host's function takes a copy of an event.
            unsafe { push(events, &raw const event.header) };
        }
    });
}

unsafe extern "C" fn save(plugin: *const clap_plugin, stream: *const clap_ostream) -> bool {
    // SAFETY: the host speaks of its instance, and passes a stream, or null.
    let (Some(instance), Some(stream)) = (unsafe { (Instance::of(plugin), stream.as_ref()) })
    else {
        return false;
    };
    let framework = instance.framework_extension::<clap_plugin_state>(CLAP_EXT_STATE);
    let Some(save) = framework.and_then(|state| state.save) else { return false };
    let mut written = Vec::new();
    let collector = clap_ostream { ctx: (&raw mut written).cast(), write: Some(collect) };
    // SAFETY: the framework's function of this name writes to a stream that outlives the call.
    if !unsafe { save(plugin, &raw const collector) } {
        return false;
    }
    if let Some(json) = written.get(LENGTH_BYTES..).and_then(mark::unfolded) {
        written = (json.len() as u64).to_le_bytes().into_iter().chain(json).collect();
    }
    write_all(stream, &written)
}

/// A stream's function that appends to a vector.
unsafe extern "C" fn collect(stream: *const clap_ostream, bytes: *const c_void, count: u64) -> i64 {
    // SAFETY: `save` has made the stream on a vector that is alive, and the framework passes so
    // many bytes.
    unsafe {
        let written: &mut Vec<u8> = &mut *(*stream).ctx.cast();
        written.extend_from_slice(std::slice::from_raw_parts(bytes.cast(), count as usize));
    }
    count.cast_signed()
}

/// Writes to a host's stream, which may take less at once than it is given.
fn write_all(stream: &clap_ostream, mut bytes: &[u8]) -> bool {
    let Some(write) = stream.write else { return false };
    while !bytes.is_empty() {
        // SAFETY: the stream is the host's, and reads no more bytes than there are.
        let count = unsafe { write(stream, bytes.as_ptr().cast(), bytes.len() as u64) };
        match usize::try_from(count) {
            Ok(count) if count > 0 => bytes = bytes.get(count..).unwrap_or(&[]),
            _ => return false,
        }
    }
    true
}

unsafe extern "C" fn load(plugin: *const clap_plugin, stream: *const clap_istream) -> bool {
    // SAFETY: the host speaks of its instance.
    let Some(instance) = (unsafe { Instance::of(plugin) }) else { return false };
    let framework = instance.framework_extension::<clap_plugin_state>(CLAP_EXT_STATE);
    let Some(load) = framework.and_then(|state| state.load) else { return false };
    let held = &instance.link.params().marker.held;
    held.set_loading(true);
    // SAFETY: the arguments are the host's, for the framework's function of this name.
    let loaded = unsafe { load(plugin, stream) };
    held.set_loading(false);
    loaded
}

/// Reads what people type, where the framework cannot.
unsafe extern "C" fn text_to_value(
    plugin: *const clap_plugin,
    id: clap_id,
    text: *const c_char,
    value: *mut f64,
) -> bool {
    // SAFETY: the host speaks of its instance.
    let Some(instance) = (unsafe { Instance::of(plugin) }) else { return false };
    let framework = instance.framework_extension::<clap_plugin_params>(CLAP_EXT_PARAMS);
    let Some(read) = framework.and_then(|params| params.text_to_value) else { return false };
    if text.is_null() || value.is_null() {
        return false;
    }
    // SAFETY: hosts pass a text that ends with a zero, and a place for the answer.
    unsafe {
        if let Ok(typed) = CStr::from_ptr(text).to_str()
            && let Some((index, _)) = texts::one_of(id, typed)
        {
            // The framework's value of a list is the place in it.
            *value = index as f64;
            return true;
        }
        read(plugin, id, text, value)
    }
}

/// Sets parameters outside of blocks. A host that sleeps while the input is silent is woken where
/// a feed is to play or the bus is to be heard.
unsafe extern "C" fn flush(
    plugin: *const clap_plugin,
    input: *const clap_input_events,
    output: *const clap_output_events,
) {
    // SAFETY: the host speaks of its instance.
    let Some(instance) = (unsafe { Instance::of(plugin) }) else { return };
    let framework = instance.framework_extension::<clap_plugin_params>(CLAP_EXT_PARAMS);
    let Some(flush) = framework.and_then(|params| params.flush) else { return };
    let was_awake = asked::is_awake(instance.link.params());
    // SAFETY: the events are the host's, for the framework's function of this name.
    unsafe {
        settle(instance.link.params(), output);
        flush(plugin, input, output);
    }
    if !was_awake && asked::is_awake(instance.link.params()) {
        // SAFETY: the host outlives its instances, and takes this call on any thread.
        unsafe {
            if let Some(request_process) = (*instance.host).request_process {
                request_process(instance.host);
            }
        }
    }
}
