//! Headless hosts that load the built plugin, one a format, behind one trait, so that every
//! scenario is written once and runs in both.
//!
//! The formats' rules that the hosts keep: the CLAP headers (`plugin.h`, threads and states in
//! their comments) and the VST 3 API's call sequence for audio processors.

pub mod clap;
pub mod vst3;

use std::path::{Path, PathBuf};

pub use clap::ClapHost;
pub use vst3::Vst3Host;

/// A plugin instance in a host.
///
/// Everything but the audio runs on the calling thread, which the plugin takes for the main
/// thread; [`play`](Self::play) runs the audio on a thread of its own, as hosts do.
pub trait Host: Sized {
    /// The format's name.
    const FORMAT: &'static str;
    /// Whether its reset stops processing for a moment.
    const RESET_STOPS: bool;

    /// Lists what a module holds, without making an instance.
    ///
    /// # Errors
    ///
    /// When the file is no module of this format.
    fn scan(module: &Path) -> Result<Vec<Description>, HostError>;

    /// Loads a module and makes an instance of its first plugin.
    ///
    /// # Errors
    ///
    /// When the file is no module of this format, or the plugin cannot be made.
    fn load(module: &Path) -> Result<Self, HostError>;

    /// Activates the instance and starts processing.
    ///
    /// # Errors
    ///
    /// When the layout does not exist, or the plugin refuses the setup.
    fn activate(&mut self, setup: Setup) -> Result<(), HostError>;

    /// Stops processing and deactivates. Nothing happens on an inactive instance.
    fn deactivate(&mut self);

    /// Plays a take from its first frame to its last; the transport runs on from take to take.
    /// Returns the main output, `[channel][frame]`.
    ///
    /// # Errors
    ///
    /// When the plugin reports an error in a block.
    ///
    /// # Panics
    ///
    /// When the instance is not active or the take does not fit its layout.
    fn play(&mut self, take: &Take<'_>) -> Result<Vec<Vec<f32>>, HostError>;

    /// Asks the plugin to clear what its processing remembers, as hosts do after a jump.
    ///
    /// # Panics
    ///
    /// When the instance is not active.
    fn reset(&mut self);

    /// Latency that the plugin reports, in frames.
    fn latency_frames(&mut self) -> u32;

    /// What the plugin itself has changed in the blocks since the last call: parameters by their
    /// number, with the value that they have in the format.
    fn told(&mut self) -> Vec<(u32, f64)>;

    /// Whether the host may stop processing when the input has fallen silent, as far as the plugin
    /// has said.
    fn may_sleep(&mut self) -> bool;

    /// All parameters, in the plugin's order.
    fn parameters(&mut self) -> Vec<Parameter>;

    /// Value of a parameter, 0 to 1.
    ///
    /// # Panics
    ///
    /// When there is no such parameter.
    fn value(&mut self, id: &str) -> f64;

    /// Sets a parameter of an inactive instance to a value from 0 to 1. While it plays, changes
    /// go by [`Take::changes`].
    ///
    /// # Panics
    ///
    /// When the instance is active.
    fn set(&mut self, id: &str, value: f64);

    /// How the plugin writes a value from 0 to 1 of a parameter.
    ///
    /// # Panics
    ///
    /// When the plugin cannot write it.
    fn text(&mut self, id: &str, value: f64) -> String;

    /// The value from 0 to 1 that the plugin reads from a text; `None` where it cannot.
    fn value_of_text(&mut self, id: &str, text: &str) -> Option<f64>;

    /// Saves the plugin's state.
    ///
    /// # Errors
    ///
    /// When the plugin cannot save it.
    fn save(&mut self) -> Result<Vec<u8>, HostError>;

    /// Recalls a state.
    ///
    /// # Errors
    ///
    /// When the plugin refuses it.
    fn recall(&mut self, state: &[u8]) -> Result<(), HostError>;
}

/// What a host's scan tells of a plugin.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Description {
    /// The format's identifier: reverse domain name (CLAP) or class id in hexadecimal (VST3).
    pub id: String,
    /// Name shown to the user.
    pub name: String,
    /// Maker.
    pub vendor: String,
    /// Version.
    pub version: String,
    /// Features or subcategories.
    pub features: Vec<String>,
}

/// A parameter as a host sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct Parameter {
    /// The number that stands for the parameter's id in both formats.
    pub hash: u32,
    /// Name shown to the user.
    pub name: String,
    /// Default value, 0 to 1.
    pub default: f64,
    /// Whether the host's own bypass button drives it.
    pub bypass: bool,
}

/// Channels of the plugin's ports.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layout {
    /// One channel.
    Mono,
    /// One channel, and a side-chain input of one.
    MonoWithSideChain,
    /// One channel, and a side-chain input of two.
    MonoWithStereoSideChain,
    /// Two channels.
    Stereo,
    /// Two channels, and a side-chain input of one.
    StereoWithMonoSideChain,
    /// Two channels, and a side-chain input of two.
    StereoWithSideChain,
    /// Left, right, centre.
    Lcr,
    /// Left, right and two surrounds.
    Quad,
    /// Left, right, centre, low-frequency channel and two surrounds.
    FivePointOne,
    /// The same with two more at the back.
    SevenPointOne,
    /// The same with four more above.
    SevenPointOneFour,
    /// Left, right, centre and two surrounds, which the plugin does not offer.
    Five,
}

impl Layout {
    /// Every layout that the plugin has to offer.
    pub const OFFERED: [Self; 11] = [
        Self::Mono,
        Self::MonoWithSideChain,
        Self::MonoWithStereoSideChain,
        Self::Stereo,
        Self::StereoWithMonoSideChain,
        Self::StereoWithSideChain,
        Self::Lcr,
        Self::Quad,
        Self::FivePointOne,
        Self::SevenPointOne,
        Self::SevenPointOneFour,
    ];

    /// Those of more than two channels.
    pub const SURROUND: [Self; 5] =
        [Self::Lcr, Self::Quad, Self::FivePointOne, Self::SevenPointOne, Self::SevenPointOneFour];

    /// Those with a side-chain.
    pub const WITH_SIDE_CHAIN: [Self; 4] = [
        Self::MonoWithSideChain,
        Self::MonoWithStereoSideChain,
        Self::StereoWithMonoSideChain,
        Self::StereoWithSideChain,
    ];

    /// Loudspeakers of the main input and output as bits of a WAVE file's channel mask
    /// (`WAVEFORMATEXTENSIBLE`); none for one channel.
    #[must_use]
    pub fn speakers(self) -> u32 {
        const LEFT_RIGHT: u32 = 0x3;
        const CENTRE: u32 = 0x4;
        const LOW_FREQUENCY: u32 = 0x8;
        const BACK: u32 = 0x30;
        const SIDE: u32 = 0x600;
        const TOP_FRONT: u32 = 0x5000;
        const TOP_BACK: u32 = 0x2_8000;
        match self {
            Self::Mono | Self::MonoWithSideChain | Self::MonoWithStereoSideChain => 0,
            Self::Stereo | Self::StereoWithMonoSideChain | Self::StereoWithSideChain => LEFT_RIGHT,
            Self::Lcr => LEFT_RIGHT | CENTRE,
            Self::Quad => LEFT_RIGHT | BACK,
            Self::Five => LEFT_RIGHT | CENTRE | BACK,
            Self::FivePointOne => LEFT_RIGHT | CENTRE | LOW_FREQUENCY | BACK,
            Self::SevenPointOne => LEFT_RIGHT | CENTRE | LOW_FREQUENCY | BACK | SIDE,
            Self::SevenPointOneFour => {
                LEFT_RIGHT | CENTRE | LOW_FREQUENCY | BACK | SIDE | TOP_FRONT | TOP_BACK
            }
        }
    }

    /// Channels of the main input and output.
    #[must_use]
    pub fn main_channels(self) -> usize {
        (self.speakers().count_ones() as usize).max(1)
    }

    /// Channels of the side-chain input, 0 where there is none.
    #[must_use]
    pub fn side_chain_channels(self) -> usize {
        match self {
            Self::MonoWithSideChain | Self::StereoWithMonoSideChain => 1,
            Self::MonoWithStereoSideChain | Self::StereoWithSideChain => 2,
            _ => 0,
        }
    }
}

/// What an instance is activated for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setup {
    /// Sample rate, in Hz. Any value is passed on, so that bad ones can be tried.
    pub rate_hz: f64,
    /// Longest block that the host announces, in frames.
    pub most_frames: u32,
    /// Ports.
    pub layout: Layout,
    /// Whether the host renders faster or slower than real time.
    pub offline: bool,
}

impl Setup {
    /// A real-time setup with blocks of up to 8192 frames.
    #[must_use]
    pub fn new(rate_hz: f64, layout: Layout) -> Self {
        Self { rate_hz, most_frames: 8192, layout, offline: false }
    }
}

/// A piece of audio to play, with what happens on the way.
#[derive(Debug, Clone, Copy)]
pub struct Take<'a> {
    /// Main input, `[channel][frame]`.
    pub main: &'a [Vec<f32>],
    /// Side-chain input, `[channel][frame]`; empty where the layout has none.
    pub side_chain: &'a [Vec<f32>],
    /// Lengths of the blocks, in frames, over and over until the take is played.
    pub blocks: &'a [usize],
    /// Parameter changes, in order of time.
    pub changes: &'a [Change<'a>],
    /// Where the transport goes, in order of time. Without any it plays, and runs on from take to
    /// take.
    pub cues: &'a [Cue],
    /// Whether input and output share their memory, where the host can do that.
    pub in_place: bool,
    /// What the host does not pass of the inputs.
    pub left_out: LeftOut,
}

/// Inputs that a host does not pass, though they were announced.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LeftOut {
    /// It passes everything.
    Nothing,
    /// No side-chain at all.
    SideChain,
    /// A side-chain without channels.
    SideChainChannels,
    /// The last channel of the side-chain.
    LastSideChainChannel,
    /// The last channel of the main input.
    LastMainChannel,
    /// All inputs.
    Everything,
}

impl LeftOut {
    /// How many channels the host passes of each input, of those that there are; without any for
    /// inputs that it does not pass.
    fn passed(self, main: usize, side_chain: usize) -> Vec<usize> {
        match self {
            Self::Nothing if side_chain == 0 => vec![main],
            Self::Nothing => vec![main, side_chain],
            Self::SideChain => vec![main],
            Self::SideChainChannels => vec![main, 0],
            Self::LastSideChainChannel => vec![main, side_chain - 1],
            Self::LastMainChannel => vec![main - 1, side_chain],
            Self::Everything => Vec::new(),
        }
    }
}

impl<'a> Take<'a> {
    /// A take without a side-chain or changes, in blocks of 512 frames.
    #[must_use]
    pub fn new(main: &'a [Vec<f32>]) -> Self {
        Self {
            main,
            side_chain: &[],
            blocks: &[512],
            changes: &[],
            cues: &[],
            in_place: false,
            left_out: LeftOut::Nothing,
        }
    }

    /// The same with blocks of these lengths.
    #[must_use]
    pub fn in_blocks(self, blocks: &'a [usize]) -> Self {
        Self { blocks, ..self }
    }

    /// The same with a side-chain.
    #[must_use]
    pub fn with_side_chain(self, side_chain: &'a [Vec<f32>]) -> Self {
        Self { side_chain, ..self }
    }

    /// The same with parameter changes.
    #[must_use]
    pub fn with_changes(self, changes: &'a [Change<'a>]) -> Self {
        Self { changes, ..self }
    }

    /// The same with a transport that goes where it is told.
    #[must_use]
    pub fn with_cues(self, cues: &'a [Cue]) -> Self {
        Self { cues, ..self }
    }

    /// The same where the host leaves something out.
    #[must_use]
    pub fn without(self, left_out: LeftOut) -> Self {
        Self { left_out, ..self }
    }

    /// Length, in frames.
    #[must_use]
    pub fn frames(&self) -> usize {
        self.main[0].len()
    }

    /// The blocks as ranges of frames, in order. A cue begins a new block.
    fn ranges(&self) -> impl Iterator<Item = std::ops::Range<usize>> + '_ {
        let mut start = 0;
        let mut lengths = self.blocks.iter().copied().filter(|&length| length > 0).cycle();
        std::iter::from_fn(move || {
            let cue = self.cues.iter().map(|cue| cue.at_frame).find(|at| *at > start);
            let end = self.frames().min(start + lengths.next()?).min(cue.unwrap_or(usize::MAX));
            let range = start..end;
            start = end;
            (!range.is_empty()).then_some(range)
        })
    }

    /// Where the transport stands at a frame, and whether it plays, if it stood at `first` when the
    /// take began.
    fn transport(&self, first: u64, frame: usize) -> (i64, bool) {
        let (mut since, mut position, mut plays) = (0, i64::try_from(first).unwrap_or(0), true);
        for cue in self.cues.iter().filter(|cue| cue.at_frame <= frame) {
            position += if plays { (cue.at_frame - since) as i64 } else { 0 };
            since = cue.at_frame;
            plays = cue.to.is_some();
            position = cue.to.unwrap_or(position);
        }
        (position + if plays { (frame - since) as i64 } else { 0 }, plays)
    }

    /// The changes that happen within a block.
    fn changes_within(&self, block: &std::ops::Range<usize>) -> impl Iterator<Item = &Change<'a>> {
        self.changes.iter().filter(move |change| block.contains(&change.at_frame))
    }

    /// Panics unless the channels are those of the layout and of one length.
    fn check(&self, layout: Layout) {
        assert_eq!(self.main.len(), layout.main_channels(), "main channels of the take");
        assert_eq!(self.side_chain.len(), layout.side_chain_channels(), "side-chain of the take");
        for channel in self.main.iter().chain(self.side_chain) {
            assert_eq!(channel.len(), self.frames(), "frames of a channel of the take");
        }
    }
}

/// A moment within a take at which the transport jumps or stops.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cue {
    /// When, in frames from the start of the take.
    pub at_frame: usize,
    /// Where in the song it plays from then on, in frames; `None` stops it.
    pub to: Option<i64>,
}

/// A parameter change within a take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change<'a> {
    /// When, in frames from the start of the take.
    pub at_frame: usize,
    /// Which parameter.
    pub id: &'a str,
    /// The new value, 0 to 1.
    pub value: f64,
}

/// Why a host could not do what it was asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum HostError {
    /// The module cannot be loaded, or holds no plugin of the format. The build's fault.
    Module {
        /// The file or folder.
        path: PathBuf,
        /// What the loader said.
        reason: String,
    },
    /// The plugin has no such layout.
    Layout(Layout),
    /// The plugin refused or failed.
    Refused(&'static str),
}

impl std::fmt::Display for HostError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Module { path, reason } => {
                write!(f, "{} cannot be loaded: {reason}", path.display())
            }
            Self::Layout(layout) => write!(f, "the plugin offers no layout {layout:?}"),
            Self::Refused(what) => write!(f, "the plugin refused: {what}"),
        }
    }
}

impl std::error::Error for HostError {}

/// The number that both formats carry in place of a parameter's id: the framework's polynomial
/// hash with the top bit cleared, since VST3 keeps that bit for the host.
#[must_use]
pub fn parameter_hash(id: &str) -> u32 {
    let hash =
        id.bytes().fold(0_u32, |hash, byte| hash.wrapping_mul(31).wrapping_add(u32::from(byte)));
    hash & !(1 << 31)
}

/// Runs a piece of work on a thread that is not the main thread, and waits for it.
fn on_audio_thread<T: Send>(work: impl FnOnce() -> T + Send) -> T {
    std::thread::scope(|scope| match scope.spawn(work).join() {
        Ok(result) => result,
        Err(panic) => std::panic::resume_unwind(panic),
    })
}
