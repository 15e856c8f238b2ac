//! The way of samples to the thread that finds entries, wait-free: a ring for each channel, and one
//! for what happens between two frames. Silence and what finds no space are only counted.

use ledgerline_measure::Settings;
use ledgerline_measure::entries::OpenedBy;
use rtrb::chunks::ReadChunk;
use rtrb::{Consumer, Producer, RingBuffer};

use crate::bus::Bus;
use crate::layouts::{MOST_CHANNELS, MOST_SIDE_CHANNELS};

/// How much audio may wait, in seconds: more than the background's pauses, and than what hosts send
/// ahead.
const WAITING_S: f64 = 2.0;
/// How many samples may wait at most: 8 MB.
const MOST_SAMPLES: usize = 2_000_000;
/// How many things may wait that happened: more than come in a pause, however short the blocks.
const EVENTS_WAITING: usize = 2048;
/// The most that happens between two frames.
const AT_ONCE: usize = 8;
/// Silence that is shorter is sound, in seconds; and how often longer silence is told of.
const SILENCE_S: f64 = 0.1;

/// What happens between two frames.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Event {
    /// So many frames of silence.
    Silence(u64),
    /// So many frames found no space.
    Lost(u64),
    /// What comes is measured by these settings.
    Settings(Settings),
    /// What comes does not go on from what came.
    Splice,
    /// What comes begins another entry.
    Open(OpenedBy),
    /// An offline render begins or ends.
    Render(bool),
    /// Whether what comes is bypassed.
    Bypass(bool),
    /// Where the host's transport stands in seconds, if it runs.
    Place(Option<f64>),
}

/// An event with its place in the stream.
#[derive(Debug, Clone, Copy)]
struct Placed {
    /// How many frames of sound came before.
    at: u64,
    event: Event,
}

/// What has happened and has not been told.
#[derive(Debug, Default)]
struct Untold {
    silence: u64,
    lost: u64,
    settings: Option<Settings>,
    splice: bool,
    open: Option<OpenedBy>,
    render: Option<bool>,
    bypass: Option<bool>,
    place: Option<Option<f64>>,
}

impl Untold {
    /// In the order in which it counts.
    fn events(&self) -> [Option<Event>; AT_ONCE] {
        [
            (self.silence > 0).then_some(Event::Silence(self.silence)),
            (self.lost > 0).then_some(Event::Lost(self.lost)),
            self.settings.map(Event::Settings),
            self.splice.then_some(Event::Splice),
            self.render.map(Event::Render),
            self.open.map(Event::Open),
            self.bypass.map(Event::Bypass),
            self.place.map(Event::Place),
        ]
    }

    /// Whether anything but silence waits.
    fn is_due(&self) -> bool {
        self.lost > 0
            || self.splice
            || self.settings.is_some()
            || self.open.is_some()
            || self.render.is_some()
            || self.bypass.is_some()
            || self.place.is_some()
    }
}

/// The audio thread's end.
pub struct StreamIn {
    lanes: Vec<Producer<f32>>,
    events: Producer<Placed>,
    main: usize,
    rate_hz: f64,
    /// Frames written.
    written: u64,
    untold: Untold,
    /// Frames of silence in a row, and from how many on they are only counted.
    silent: u64,
    longest: u64,
    bypassed: bool,
    /// Frames until the transport's place is told again.
    to_place: usize,
}

/// The background's end.
pub struct StreamOut {
    lanes: Vec<Consumer<f32>>,
    events: Consumer<Placed>,
    main: usize,
    read: u64,
}

/// What comes next out of a stream.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Next {
    /// So many frames of sound at least.
    Sound(usize),
    /// Something has happened.
    Event(Event),
}

/// Makes both ends for a bus. Allocates.
#[must_use]
pub fn stream(bus: Bus) -> (StreamIn, StreamOut) {
    let main = bus.main.min(MOST_CHANNELS);
    let channels = main + bus.side_chain.min(MOST_SIDE_CHANNELS);
    let most = MOST_SAMPLES / channels.max(1);
    // No rate is no number of frames.
    let frames = ((WAITING_S * bus.rate_hz) as usize).clamp(1, most);
    let (lanes_in, lanes_out) = (0..channels).map(|_| RingBuffer::new(frames)).unzip();
    let (events_in, events_out) = RingBuffer::new(EVENTS_WAITING);
    let silent = u64::MAX / 2;
    let stream_in = StreamIn {
        lanes: lanes_in,
        events: events_in,
        main,
        rate_hz: bus.rate_hz,
        written: 0,
        untold: Untold::default(),
        silent,
        longest: (SILENCE_S * bus.rate_hz) as u64,
        bypassed: false,
        to_place: 0,
    };
    (stream_in, StreamOut { lanes: lanes_out, events: events_out, main, read: 0 })
}

impl StreamIn {
    /// What comes is measured by other settings.
    pub fn settings(&mut self, settings: Settings) {
        self.untold.settings = Some(settings);
    }

    /// What comes does not go on from what came.
    pub fn splice(&mut self) {
        self.untold.splice = true;
    }

    /// What comes begins another entry.
    pub fn open(&mut self, by: OpenedBy) {
        // A mark says nothing more than what opens one anyway.
        if by != OpenedBy::Mark || self.untold.open.is_none() {
            self.untold.open = Some(by);
        }
    }

    /// An offline render begins or ends.
    pub fn render(&mut self, offline: bool) {
        self.untold.render = Some(offline);
    }

    /// Where the host's transport stands at the next frame, in seconds; `jumped` where that does not
    /// follow from what it told before.
    pub fn place(&mut self, host_s: Option<f64>, jumped: bool) {
        if jumped || self.to_place == 0 {
            self.untold.place = Some(host_s);
            self.to_place = self.rate_hz as usize;
        }
    }

    /// Whether there is space for so many frames, or for as many as can ever wait.
    #[must_use]
    pub fn has_space(&self, frames: usize) -> bool {
        let most = self.lanes.first().map_or(0, |lane| lane.buffer().capacity());
        self.events.slots() >= AT_ONCE && self.slots() >= frames.min(most)
    }

    /// Hands over a piece, `main[channel][frame]` and `side_chain[channel][frame]`; a side-chain that
    /// is left out is silent. Neither waits nor allocates; what finds no space is counted as lost.
    pub fn push(&mut self, main: &[&[f32]], side_chain: &[&[f32]], bypassed: bool) {
        let frames = main.iter().map(|channel| channel.len()).min().unwrap_or(0);
        self.to_place = self.to_place.saturating_sub(frames);
        if self.bypassed != bypassed {
            self.bypassed = bypassed;
            self.untold.bypass = Some(bypassed);
        }
        let is_silent = main.iter().chain(side_chain).all(|channel| is_silent(channel));
        self.silent = if is_silent { self.silent.saturating_add(frames as u64) } else { 0 };
        if self.silent > self.longest && self.untold.lost == 0 {
            if self.untold.is_due() {
                self.tell();
            }
            self.untold.silence += frames as u64;
            if self.untold.silence > self.longest {
                self.tell();
            }
            return;
        }
        // What is lost in a row is told at once when there is space again.
        let space = self.space_for(frames);
        let count = if space > 0 && self.tell() { space } else { 0 };
        let left_out: &[f32] = &[];
        let (mains, sides) = self.lanes.split_at_mut(self.main);
        write(mains, main.iter().copied(), count);
        write(sides, side_chain.iter().copied().chain(std::iter::repeat(left_out)), count);
        self.written += count as u64;
        self.untold.lost += (frames - count) as u64;
    }

    /// Tells what has happened, and says whether there was space for it.
    pub fn tell(&mut self) -> bool {
        if self.untold.silence == 0 && !self.untold.is_due() {
            return true;
        }
        if self.events.slots() < AT_ONCE {
            return false;
        }
        for event in std::mem::take(&mut self.untold).events().into_iter().flatten() {
            // There is space: this thread alone fills it, and has just looked.
            let _ = self.events.push(Placed { at: self.written, event });
        }
        true
    }

    /// Space for up to so many frames.
    fn space_for(&self, frames: usize) -> usize {
        // Mostly there is as much as was seen last.
        match self.lanes.iter().all(|lane| lane.cached_slots() >= frames) {
            true => frames,
            false => self.slots().min(frames),
        }
    }

    fn slots(&self) -> usize {
        self.lanes.iter().map(Producer::slots).min().unwrap_or(0)
    }
}

fn is_silent(channel: &[f32]) -> bool {
    channel.iter().all(|&sample| sample == 0.0)
}

/// Writes the first `count` frames of channels, of which there is space for; what a channel lacks is
/// silent.
fn write<'a>(lanes: &mut [Producer<f32>], channels: impl Iterator<Item = &'a [f32]>, count: usize) {
    for (lane, channel) in lanes.iter_mut().zip(channels) {
        let there = &channel[..channel.len().min(count)];
        let _ = lane.push_entire_slice(there);
        for _ in there.len()..count {
            let _ = lane.push(0.0);
        }
    }
}

impl StreamOut {
    /// Frames of sound that wait.
    #[must_use]
    pub fn waiting(&self) -> usize {
        self.lanes.iter().map(Consumer::slots).min().unwrap_or(0)
    }

    /// What comes next, if anything has come. An event is taken with that.
    pub fn upcoming(&mut self) -> Option<Next> {
        // The frames first: whatever happened before one of them was told before it came.
        let waiting = self.waiting() as u64;
        let Ok(&Placed { at, event }) = self.events.peek() else {
            return (waiting > 0).then_some(Next::Sound(waiting as usize));
        };
        if at > self.read {
            return Some(Next::Sound((at - self.read).min(waiting) as usize))
                .filter(|_| waiting > 0);
        }
        let _ = self.events.pop();
        Some(Next::Event(event))
    }

    /// Takes up to so many frames, of those that [`upcoming`](Self::upcoming) has told of: `take` gets the main
    /// input's and the side-chain's channels, and this says how many frames.
    pub fn take(&mut self, frames: usize, take: impl FnOnce(&[&[f32]], &[&[f32]])) -> usize {
        let chunks: Vec<ReadChunk<'_, f32>> =
            self.lanes.iter_mut().filter_map(|lane| lane.read_chunk(frames).ok()).collect();
        // Up to where the rings begin anew: all of them at the same frame.
        let pieces: Vec<&[f32]> = chunks.iter().map(|chunk| chunk.as_slices().0).collect();
        let count = pieces.iter().map(|piece| piece.len()).min().unwrap_or(0);
        let pieces: Vec<&[f32]> = pieces.iter().map(|piece| &piece[..count]).collect();
        let (main, side_chain) = pieces.split_at(self.main.min(pieces.len()));
        take(main, side_chain);
        for chunk in chunks {
            chunk.commit(count);
        }
        self.read += count as u64;
        count
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BUS: Bus = Bus { rate_hz: 1_000.0, main: 2, side_chain: 1 };

    /// Everything that waits: sound as its samples of the last channel, and events.
    fn drain(out: &mut StreamOut) -> (Vec<f32>, Vec<Event>) {
        let (mut heard, mut events) = (Vec::new(), Vec::new());
        while let Some(next) = out.upcoming() {
            match next {
                Next::Event(event) => events.push(event),
                Next::Sound(frames) => {
                    out.take(frames, |main, side_chain| {
                        assert_eq!(main[0], main[1]);
                        heard.extend_from_slice(side_chain[0]);
                    });
                }
            }
        }
        (heard, events)
    }

    #[test]
    fn sound_comes_whole_and_in_order_however_it_is_cut_and_what_happens_keeps_its_place() {
        let (mut stream_in, mut stream_out) = stream(BUS);
        let mut sent = 0;
        for length in [1, 700, 3, 1_200, 64, 1_999] {
            let piece: Vec<f32> = (sent + 1..=sent + length).map(|n| n as f32).collect();
            for one in piece.chunks(if length == 64 { 1 } else { length }) {
                stream_in.open(OpenedBy::Mark);
                stream_in.push(&[one, one], &[one], false);
            }
            let (heard, events) = drain(&mut stream_out);
            assert!(heard == piece, "{length} frames");
            let count = if length == 64 { 64 } else { 1 };
            assert_eq!(events, vec![Event::Open(OpenedBy::Mark); count]);
            sent += length;
        }
    }

    #[test]
    fn what_finds_no_space_is_counted_and_told_before_what_comes_after() {
        let (mut stream_in, mut stream_out) = stream(BUS);
        let long = vec![0.5; 2_500];
        stream_in.push(&[&long, &long], &[], false);
        assert!(!stream_in.has_space(1));
        stream_in.push(&[&long[..7], &long[..7]], &[], false);
        let (heard, events) = drain(&mut stream_out);
        assert!(heard == vec![0.0; 2_000] && events.is_empty(), "the side-chain was left out");
        assert!(stream_in.has_space(1_000_000), "all that there can be");
        stream_in.push(&[&long[..5], &long[..5]], &[&long[..5]], true);
        let events = vec![Event::Lost(507), Event::Bypass(true)];
        assert_eq!(drain(&mut stream_out), (vec![0.5; 5], events));
    }

    #[test]
    fn silence_is_counted_and_short_silence_is_sound() {
        let (mut stream_in, mut stream_out) = stream(BUS);
        let (silent, loud) = (vec![0.0; 60], vec![0.5; 60]);
        let mut push = |piece: &[f32]| stream_in.push(&[piece, piece], &[piece], false);
        push(&silent);
        push(&loud);
        // The first 100 ms of silence are sound.
        (0..10).for_each(|_| push(&silent));
        push(&loud);
        let (heard, events) = drain(&mut stream_out);
        assert!(heard == [&loud[..], &silent, &loud].concat(), "{} frames", heard.len());
        let told: Vec<u64> = events
            .iter()
            .map(|event| if let Event::Silence(frames) = event { *frames } else { 0 })
            .collect();
        assert_eq!((told[0], told.iter().sum::<u64>()), (60, 600), "{events:?}");
    }
}
