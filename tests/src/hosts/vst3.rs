//! A VST3 host in this process, on the interfaces of the `vst3` crate.
//!
//! The calls come in the order that the VST 3 API prescribes: arrangement, bus activation, setup,
//! active, processing, and back. Unsafe code stands in the submodules, one subject each.

mod audio;
mod changes;
mod context;
mod instance;
mod module;
mod stream;
mod told;

use std::path::Path;

use super::{
    Description, Host, HostError, Parameter, Setup, Take, on_audio_thread, parameter_hash,
};
use instance::Instance;
use module::Module;

/// A plugin instance in a VST3 host.
pub struct Vst3Host {
    instance: Instance,
    active: Option<Setup>,
    /// Where the transport stands, in frames.
    position_frames: u64,
    told: Vec<(u32, f64)>,
}

impl Host for Vst3Host {
    const FORMAT: &'static str = "VST3";
    const RESET_STOPS: bool = true;

    fn scan(module: &Path) -> Result<Vec<Description>, HostError> {
        Ok(Module::load(module)?.classes())
    }

    fn load(module: &Path) -> Result<Self, HostError> {
        let instance = Instance::new(Module::load(module)?)?;
        Ok(Self { instance, active: None, position_frames: 0, told: Vec::new() })
    }

    fn activate(&mut self, setup: Setup) -> Result<(), HostError> {
        self.deactivate();
        self.instance.arrange(setup.layout)?;
        self.instance.set_up(&setup)?;
        self.instance.set_active(true)?;
        on_audio_thread(|| self.instance.set_processing(true))?;
        self.active = Some(setup);
        Ok(())
    }

    fn deactivate(&mut self) {
        if self.active.take().is_some() {
            // The API lets a plugin answer that it does nothing here.
            let _ = on_audio_thread(|| self.instance.set_processing(false));
            let _ = self.instance.set_active(false);
        }
    }

    fn play(&mut self, take: &Take<'_>) -> Result<Vec<Vec<f32>>, HostError> {
        let setup = self.active.expect("an active instance");
        take.check(setup.layout);
        let mut audio = audio::Audio::new(take, self.instance.input_busses());
        let position_frames = self.position_frames;
        self.position_frames += take.frames() as u64;
        let transports: Vec<(i64, bool)> =
            take.ranges().map(|block| take.transport(position_frames, block.start)).collect();
        on_audio_thread(|| audio.play(&self.instance, position_frames, &transports, &setup))?;
        self.told.append(&mut audio.told());
        Ok(audio.into_output())
    }

    fn reset(&mut self) {
        assert!(self.active.is_some(), "an active instance");
        on_audio_thread(|| {
            let _ = self.instance.set_processing(false);
            let _ = self.instance.set_processing(true);
        });
    }

    fn latency_frames(&mut self) -> u32 {
        self.instance.latency_frames()
    }

    fn told(&mut self) -> Vec<(u32, f64)> {
        std::mem::take(&mut self.told)
    }

    fn may_sleep(&mut self) -> bool {
        self.instance.tail_frames() != u32::MAX
    }

    fn parameters(&mut self) -> Vec<Parameter> {
        self.instance.parameters()
    }

    fn value(&mut self, id: &str) -> f64 {
        let hash = self.known(id);
        self.instance.value(hash)
    }

    fn set(&mut self, id: &str, value: f64) {
        assert!(self.active.is_none(), "an inactive instance");
        let hash = self.known(id);
        self.instance.set(hash, value);
    }

    fn text(&mut self, id: &str, value: f64) -> String {
        let hash = self.known(id);
        self.instance
            .text(hash, value)
            .unwrap_or_else(|| panic!("parameter {id} cannot write {value}"))
    }

    fn value_of_text(&mut self, id: &str, text: &str) -> Option<f64> {
        let hash = self.known(id);
        self.instance.value_of_text(hash, text)
    }

    fn save(&mut self) -> Result<Vec<u8>, HostError> {
        self.instance.save()
    }

    fn recall(&mut self, state: &[u8]) -> Result<(), HostError> {
        self.instance.recall(state)
    }
}

impl Vst3Host {
    /// Stops processing and leaves the instance active, as hosts do when the transport stops.
    ///
    /// # Panics
    ///
    /// When the instance is not active.
    pub fn stop(&mut self) {
        assert!(self.active.is_some(), "an active instance");
        let _ = on_audio_thread(|| self.instance.set_processing(false));
    }

    /// Tells a new view of a scale before it has a window. Returns whether the plugin takes it, and
    /// the view's size in pixels before and after.
    pub fn scale_a_view(&mut self, scale: f32) -> Option<(bool, [[i32; 2]; 2])> {
        self.instance.scale_a_view(scale)
    }

    /// The number of a parameter that exists.
    fn known(&self, id: &str) -> u32 {
        let hash = parameter_hash(id);
        assert!(
            self.instance.parameters().iter().any(|parameter| parameter.hash == hash),
            "there is no parameter {id}"
        );
        hash
    }
}

impl Drop for Vst3Host {
    fn drop(&mut self) {
        self.deactivate();
    }
}
