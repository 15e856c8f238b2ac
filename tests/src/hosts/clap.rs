//! A CLAP host on `clack-host`, whose types keep the order of calls and the threads.

mod audio;
mod callbacks;
mod module;
mod window;

use std::ffi::CString;
use std::path::Path;

use clack_extensions::audio_ports::{AudioPortInfoBuffer, PluginAudioPorts};
use clack_extensions::audio_ports_config::{AudioPortsConfigBuffer, PluginAudioPortsConfig};
use clack_extensions::gui::PluginGui;
use clack_extensions::latency::PluginLatency;
use clack_extensions::params::{ParamInfoBuffer, ParamInfoFlags, PluginParams};
use clack_extensions::render::{PluginRender, RenderMode};
use clack_extensions::state::PluginState;
use clack_extensions::surround::PluginSurround;
use clack_host::events::event_types::ParamValueEvent;
use clack_host::prelude::*;
use clack_host::utils::ClapId;

use super::{
    Description, Host, HostError, Layout, Parameter, Setup, Take, on_audio_thread, parameter_hash,
};
use callbacks::{Callbacks, MainThread, Shared};

/// Longest text of a parameter's value that is read, in bytes.
const LONGEST_TEXT_BYTES: usize = 256;

/// A plugin instance in a CLAP host.
pub struct ClapHost {
    /// Declared before the instance: the processor has to go first.
    running: Option<Running>,
    instance: PluginInstance<Callbacks>,
    parameters: Vec<Range>,
    /// Where the transport stands, in frames.
    position_frames: u64,
    told: Vec<(u32, f64)>,
    may_sleep: bool,
}

/// An activated and started processor.
struct Running {
    processor: StartedPluginAudioProcessor<Callbacks>,
    setup: Setup,
}

/// A parameter with the range that its plain values have in this format.
struct Range {
    parameter: Parameter,
    low: f64,
    high: f64,
}

impl Host for ClapHost {
    const FORMAT: &'static str = "CLAP";
    const RESET_STOPS: bool = false;

    fn scan(module: &Path) -> Result<Vec<Description>, HostError> {
        let entry = module::load(module)?;
        let factory = entry.get_plugin_factory().ok_or(HostError::Refused("plugin factory"))?;
        Ok(factory.plugin_descriptors().map(describe).collect())
    }

    fn load(module: &Path) -> Result<Self, HostError> {
        Self::of_entry(&module::load(module)?)
    }

    fn activate(&mut self, setup: Setup) -> Result<(), HostError> {
        self.deactivate();
        self.select(setup.layout)?;
        self.set_render_mode(setup.offline);
        let configuration = PluginAudioConfiguration {
            sample_rate: setup.rate_hz,
            min_frames_count: 1,
            max_frames_count: setup.most_frames,
        };
        let stopped = self
            .instance
            .activate(|_, _| (), configuration)
            .map_err(|_| HostError::Refused("activation"))?;
        let processor = on_audio_thread(|| stopped.start_processing())
            .map_err(|_| HostError::Refused("start of processing"))?;
        self.running = Some(Running { processor, setup });
        Ok(())
    }

    fn deactivate(&mut self) {
        if let Some(running) = self.running.take() {
            let stopped = on_audio_thread(|| running.processor.stop_processing());
            self.instance.deactivate(stopped);
        }
    }

    fn play(&mut self, take: &Take<'_>) -> Result<Vec<Vec<f32>>, HostError> {
        let running = self.running.as_mut().expect("an active instance");
        take.check(running.setup.layout);
        let mut audio = audio::Audio::new(take, &self.parameters);
        let position_frames = self.position_frames;
        self.position_frames += take.frames() as u64;
        let transports: Vec<(i64, bool)> =
            take.ranges().map(|block| take.transport(position_frames, block.start)).collect();
        on_audio_thread(|| {
            audio.play(&mut running.processor, position_frames, &transports, running.setup.rate_hz)
        })?;
        self.told.append(&mut audio.told);
        self.may_sleep = audio.may_sleep;
        Ok(audio.into_output())
    }

    fn reset(&mut self) {
        let running = self.running.as_mut().expect("an active instance");
        on_audio_thread(|| running.processor.reset());
    }

    fn latency_frames(&mut self) -> u32 {
        let latency: Option<PluginLatency> = self.extension();
        latency.map_or(0, |latency| latency.get(&self.instance.plugin_handle()))
    }

    fn told(&mut self) -> Vec<(u32, f64)> {
        std::mem::take(&mut self.told)
    }

    fn may_sleep(&mut self) -> bool {
        self.may_sleep
    }

    fn parameters(&mut self) -> Vec<Parameter> {
        self.parameters.iter().map(|range| range.parameter.clone()).collect()
    }

    fn value(&mut self, id: &str) -> f64 {
        let (params, hash) = (self.params(), clap_id(id));
        let plain = params
            .get_value(&self.instance.plugin_handle(), hash)
            .unwrap_or_else(|| panic!("parameter {id} has no value"));
        range(&self.parameters, id).normalized(plain)
    }

    fn set(&mut self, id: &str, value: f64) {
        let plain = range(&self.parameters, id).plain(value);
        let events = [ParamValueEvent::new(0, clap_id(id), Pckn::match_all(), plain)];
        let params = self.params();
        let mut handle = self.instance.inactive_plugin_handle().expect("an inactive instance");
        let mut ignored = EventBuffer::new();
        params.flush(
            &mut handle,
            &InputEvents::from_buffer(&events),
            &mut OutputEvents::from_buffer(&mut ignored),
        );
        self.serve_callbacks();
    }

    fn text(&mut self, id: &str, value: f64) -> String {
        let plain = range(&self.parameters, id).plain(value);
        let params = self.params();
        let mut buffer = [0; LONGEST_TEXT_BYTES];
        let text = params
            .value_to_text(&self.instance.plugin_handle(), clap_id(id), plain, &mut buffer)
            .unwrap_or_else(|_| panic!("parameter {id} cannot write {plain}"));
        String::from_utf8_lossy(text).into_owned()
    }

    fn value_of_text(&mut self, id: &str, text: &str) -> Option<f64> {
        let text = CString::new(text).expect("a text without zero bytes");
        let plain =
            self.params().text_to_value(&self.instance.plugin_handle(), clap_id(id), &text)?;
        Some(range(&self.parameters, id).normalized(plain))
    }

    fn save(&mut self) -> Result<Vec<u8>, HostError> {
        let state: PluginState = self.extension().ok_or(HostError::Refused("state extension"))?;
        let mut bytes = Vec::new();
        state
            .save(&self.instance.plugin_handle(), &mut bytes)
            .map_err(|_| HostError::Refused("saving its state"))?;
        Ok(bytes)
    }

    fn recall(&mut self, mut state: &[u8]) -> Result<(), HostError> {
        let extension: PluginState =
            self.extension().ok_or(HostError::Refused("state extension"))?;
        let result = extension.load(&self.instance.plugin_handle(), &mut state);
        self.serve_callbacks();
        result.map_err(|_| HostError::Refused("the state"))
    }
}

impl ClapHost {
    /// Makes an instance of the first plugin of an entry that is loaded already, so that a plugin
    /// linked into the test can be driven as well.
    ///
    /// # Errors
    ///
    /// When the entry holds no plugin or the plugin cannot be made.
    pub fn of_entry(entry: &PluginEntry) -> Result<Self, HostError> {
        let factory = entry.get_plugin_factory().ok_or(HostError::Refused("plugin factory"))?;
        let id = factory
            .plugin_descriptor(0)
            .and_then(|descriptor| descriptor.id())
            .ok_or(HostError::Refused("description"))?;
        let info = HostInfo::new("Ledgerline tests", "Ledgerline", "", "1")
            .expect("texts without zero bytes");
        let instance =
            PluginInstance::new(|()| Shared::on_this_thread(), |_| MainThread, entry, id, &info)
                .map_err(|_| HostError::Refused("instantiation"))?;
        let mut host = Self {
            running: None,
            instance,
            parameters: Vec::new(),
            position_frames: 0,
            told: Vec::new(),
            may_sleep: true,
        };
        host.parameters = host.read_parameters();
        Ok(host)
    }

    fn extension<E>(&mut self) -> Option<E>
    where
        E: clack_host::extensions::Extension<
                ExtensionSide = clack_host::extensions::PluginExtensionSide,
            >,
    {
        self.instance.plugin_handle().get_extension()
    }

    fn params(&mut self) -> PluginParams {
        self.extension().expect("the parameter extension")
    }

    fn read_parameters(&mut self) -> Vec<Range> {
        let Some(params) = self.extension::<PluginParams>() else {
            return Vec::new();
        };
        let handle = self.instance.plugin_handle();
        let mut buffer = ParamInfoBuffer::new();
        let mut ranges = Vec::new();
        for index in 0..params.count(&handle) {
            let info = params.get_info(&handle, index, &mut buffer).expect("a parameter");
            let (low, high) = (info.min_value, info.max_value);
            ranges.push(Range {
                parameter: Parameter {
                    hash: info.id.get(),
                    name: String::from_utf8_lossy(info.name).into_owned(),
                    default: (info.default_value - low) / (high - low),
                    bypass: info.flags.contains(ParamInfoFlags::IS_BYPASS),
                },
                low,
                high,
            });
        }
        ranges
    }

    /// Selects the port configuration of a layout: the first after which the ports are those of the
    /// layout, loudspeakers included.
    fn select(&mut self, layout: Layout) -> Result<(), HostError> {
        let configurations: PluginAudioPortsConfig =
            self.extension().ok_or(HostError::Layout(layout))?;
        let mut buffer = AudioPortsConfigBuffer::new();
        for index in 0..configurations.count(&self.instance.plugin_handle()) {
            let handle = self.instance.plugin_handle();
            let Some(configuration) = configurations.get(&handle, index, &mut buffer) else {
                continue;
            };
            let selected = configurations.select(&handle, configuration.id).is_ok();
            if selected && self.has_ports_of(layout) {
                return Ok(());
            }
        }
        Err(HostError::Layout(layout))
    }

    /// Whether the ports that are there are those of a layout.
    fn has_ports_of(&mut self, layout: Layout) -> bool {
        let Some(ports) = self.extension::<PluginAudioPorts>() else { return false };
        let surround = self.extension::<PluginSurround>();
        let handle = self.instance.plugin_handle();
        let mut buffer = AudioPortInfoBuffer::new();
        let mut shown = |is_input: bool| -> Vec<usize> {
            (0..ports.count(&handle, is_input))
                .filter_map(|port| {
                    let port = ports.get(&handle, port, is_input, &mut buffer)?;
                    Some(port.channel_count as usize)
                })
                .collect()
        };
        let main = layout.main_channels();
        let mut inputs = vec![main];
        inputs.extend(Some(layout.side_chain_channels()).filter(|&channels| channels > 0));
        let mapped = |is_input: bool| {
            let mut map = [0; 64];
            let map = surround.map(|s| s.get_channel_map(&handle, is_input, 0, &mut map).as_raw());
            map.is_some_and(|speakers| {
                let bits = speakers.iter().fold(0, |bits, speaker| bits | 1_u32 << speaker);
                speakers.is_sorted() && bits == layout.speakers()
            })
        };
        shown(true) == inputs
            && shown(false) == [main]
            && (main < 3 || (mapped(true) && mapped(false)))
    }

    /// Begins or ends an offline render without activating anew, as the format lets hosts do.
    pub fn render_offline(&mut self, offline: bool) {
        self.set_render_mode(offline);
    }

    /// Tells of a scale before there is a window. Returns whether the plugin takes it, and the
    /// window's size in pixels before and after.
    pub fn scale_a_window(&mut self, scale: f64) -> Option<(bool, [[u32; 2]; 2])> {
        let gui: PluginGui = self.extension()?;
        let handle = self.instance.plugin_handle();
        let size = || gui.get_size(&handle).map(|size| [size.width, size.height]);
        let before = size()?;
        let taken = gui.set_scale(&handle, scale).is_ok();
        Some((taken, [before, size()?]))
    }

    fn set_render_mode(&mut self, offline: bool) {
        let render: Option<PluginRender> = self.extension();
        let mode = if offline { RenderMode::Offline } else { RenderMode::Realtime };
        if let Some(render) = render {
            // A plugin that declines renders as it always does.
            let _ = render.set(&self.instance.plugin_handle(), mode);
        }
    }

    /// Does on the main thread what the plugin asked for, as a host's event loop would.
    fn serve_callbacks(&mut self) {
        while self.instance.access_shared_handler(Shared::take_callback_request) {
            self.instance.call_on_main_thread_callback();
        }
    }
}

impl Drop for ClapHost {
    fn drop(&mut self) {
        // A processor that is dropped before its instance is deactivated leaks both.
        self.deactivate();
    }
}

impl Range {
    fn plain(&self, normalized: f64) -> f64 {
        self.low + normalized * (self.high - self.low)
    }

    fn normalized(&self, plain: f64) -> f64 {
        (plain - self.low) / (self.high - self.low)
    }
}

fn range<'a>(ranges: &'a [Range], id: &str) -> &'a Range {
    let hash = parameter_hash(id);
    ranges
        .iter()
        .find(|range| range.parameter.hash == hash)
        .unwrap_or_else(|| panic!("there is no parameter {id}"))
}

fn clap_id(id: &str) -> ClapId {
    ClapId::new(parameter_hash(id))
}

fn describe(descriptor: &clack_host::plugin::PluginDescriptor) -> Description {
    let text = |text: Option<&std::ffi::CStr>| {
        text.map(|text| text.to_string_lossy().into_owned()).unwrap_or_default()
    };
    Description {
        id: text(descriptor.id()),
        name: text(descriptor.name()),
        vendor: text(descriptor.vendor()),
        version: text(descriptor.version()),
        features: descriptor.features().map(|feature| text(Some(feature))).collect(),
    }
}
