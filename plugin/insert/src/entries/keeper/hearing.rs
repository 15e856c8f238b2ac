//! What is heard of a bus: the entries that are found, and what time it was.

use ledgerline_measure::entries::{Clock, Entries, Entry, OpenedBy};
use ledgerline_measure::{Settings, View};
use time::{Duration, OffsetDateTime};

use crate::bus::Bus;
use crate::entries::quiet::{Quiet, Skipped};
use crate::entries::stream::Event;

/// How much is taken at once, in frames.
pub(super) const MOST_FRAMES: usize = 8192;
/// What held silence is made of.
static SILENCE: [f32; MOST_FRAMES] = [0.0; MOST_FRAMES];

/// See the module.
pub(super) struct Hearing {
    bus: Bus,
    settings: Option<Settings>,
    /// None until a bus comes that can be measured.
    entries: Option<Entries>,
    /// Whether the present bus cannot be measured by the present settings.
    deaf: bool,
    /// Frames since this bus is heard, measured or not; and of them those that were measured by the
    /// present settings.
    frames: u64,
    measured: u64,
    /// Seconds that were measured before.
    before_s: f64,
    quiet: Quiet,
    skipped: Skipped,
    bypassed: bool,
    offline: bool,
    /// Where the transport stood at a frame, in seconds, if it runs.
    host: (u64, Option<f64>),
}

impl Hearing {
    pub(super) fn new(bus: Bus) -> Self {
        Self {
            bus,
            settings: None,
            entries: None,
            deaf: true,
            frames: 0,
            measured: 0,
            before_s: 0.0,
            quiet: Quiet::new(bus.rate_hz),
            skipped: Skipped::default(),
            bypassed: false,
            offline: false,
            host: (0, None),
        }
    }

    /// A bus is heard from now on.
    pub(super) fn begin(&mut self, bus: Bus, settings: Settings, offline: bool) {
        let same = (self.bus, self.settings) == (bus, Some(settings));
        match &mut self.entries {
            Some(entries) if same && !self.deaf => entries.open(OpenedBy::Start),
            _ => self.measure_by(bus, settings),
        }
        (self.offline, self.bypassed) = (offline, false);
        (self.frames, self.host) = (0, (0, None));
        self.quiet = Quiet::new(bus.rate_hz);
    }

    /// The entries, found where the bus can be measured.
    pub(super) fn entries(&self) -> Option<&Entries> {
        self.entries.as_ref()
    }

    /// The entry under way, as it lies in time.
    pub(super) fn under_way(&mut self) -> Option<Entry> {
        let entry = self.entries.as_mut()?.under_way()?;
        Some(self.placed(&entry))
    }

    pub(super) fn set_view(&mut self, view: View) {
        if let Some(entries) = &mut self.entries {
            entries.set_view(view);
        }
    }

    /// An entry as it lies in time.
    pub(super) fn placed(&self, entry: &Entry) -> Entry {
        let mut placed = entry.clone();
        placed.stretch.start_s = self.skipped.moment(entry.start_s);
        placed.stretch.end_s = self.skipped.moment(entry.end_s);
        placed
    }

    /// The moment at which the latest entry begins, as far as that is known.
    pub(super) fn newest_start_s(&self) -> Option<f64> {
        Some(self.skipped.moment(self.live()?.newest_start_s()))
    }

    /// How far time has come, in seconds.
    pub(super) fn now_s(&self) -> f64 {
        self.skipped.moment(self.measured_s()) + self.quiet.held_s()
    }

    /// Nobody asks for moments before the start of an entry any more.
    pub(super) fn forget_before(&mut self, entry_start_s: f64) {
        self.skipped.forget_before(entry_start_s);
    }

    /// When the next frame came, where so many wait. What a render sends has no time of its own.
    pub(super) fn came(&self, now: OffsetDateTime, waiting: usize) -> OffsetDateTime {
        let age_s = if self.offline { 0.0 } else { waiting as f64 / self.bus.rate_hz };
        now - Duration::seconds_f64(age_s)
    }

    /// Something has happened before the next frame.
    pub(super) fn event(&mut self, event: Event, now: OffsetDateTime) {
        match event {
            Event::Silence(frames) => {
                let measured = self.quiet.take(frames);
                self.silence(measured, now);
                self.frames += frames - measured;
            }
            Event::Place(host_s) => self.host = (self.frames, host_s),
            Event::Splice => self.tell(Entries::splice),
            Event::Lost(frames) => {
                self.end_quiet(now);
                self.frames += frames;
                self.skipped.add(self.measured_s(), frames as f64 / self.bus.rate_hz);
                self.tell(Entries::miss);
            }
            Event::Settings(settings) => {
                self.finish(now);
                self.measure_by(self.bus, settings);
            }
            Event::Open(by) => {
                self.end_quiet(now);
                self.tell(|entries| entries.open(by));
            }
            Event::Render(offline) => {
                self.finish(now);
                self.tell(|entries| entries.open(OpenedBy::Start));
                self.offline = offline;
            }
            Event::Bypass(bypassed) => {
                self.end_quiet(now);
                self.bypassed = bypassed;
            }
        }
    }

    /// Sound has come, its first frame at `utc`.
    pub(super) fn sound(&mut self, main: &[&[f32]], side_chain: &[&[f32]], utc: OffsetDateTime) {
        self.end_quiet(utc);
        self.feed(main, side_chain, utc);
    }

    /// No more comes of what is under way.
    pub(super) fn finish(&mut self, now: OffsetDateTime) {
        self.end_quiet(now);
        self.tell(Entries::finish);
    }

    fn live(&self) -> Option<&Entries> {
        self.entries.as_ref().filter(|_| !self.deaf)
    }

    fn tell(&mut self, what: impl FnOnce(&mut Entries)) {
        if let Some(entries) = self.entries.as_mut().filter(|_| !self.deaf) {
            what(entries);
        }
    }

    /// Goes on with another bus or other settings; what came before has ended.
    fn measure_by(&mut self, bus: Bus, settings: Settings) {
        (self.before_s, self.measured) = (self.measured_s(), 0);
        (self.bus, self.settings) = (bus, Some(settings));
        let fresh = entries(bus, settings);
        self.deaf = fresh.is_none();
        let before = self.entries.take();
        self.entries = match (fresh, before) {
            (Some(fresh), Some(before)) => Some(fresh.going_on_from(before)),
            (fresh, before) => fresh.or(before),
        };
    }

    /// Seconds that have been measured.
    pub(super) fn measured_s(&self) -> f64 {
        // Of a bus without a rate nothing is measured.
        self.before_s
            + if self.measured > 0 { self.measured as f64 / self.bus.rate_hz } else { 0.0 }
    }

    /// Silence has ended: what was held of it is measured or skipped.
    fn end_quiet(&mut self, utc: OffsetDateTime) {
        let [skipped, measured] = self.quiet.end();
        self.skipped.add(self.measured_s(), skipped as f64 / self.bus.rate_hz);
        // They have been counted already.
        self.frames -= measured;
        self.silence(measured, utc);
    }

    /// So many frames of silence came up to `utc`.
    fn silence(&mut self, frames: u64, utc: OffsetDateTime) {
        let mut left = frames as usize;
        while left > 0 {
            let count = left.min(MOST_FRAMES);
            let piece = &SILENCE[..count];
            let (main, side_chain) = (vec![piece; self.bus.main], vec![piece; self.bus.side_chain]);
            self.feed(&main, &side_chain, self.came(utc, left));
            left -= count;
        }
    }

    fn feed(&mut self, main: &[&[f32]], side_chain: &[&[f32]], utc: OffsetDateTime) {
        let clock = self.clock(utc);
        let bypassed = self.bypassed;
        self.tell(|entries| match bypassed {
            true => entries.pass(main, side_chain, clock),
            false => entries.take(main, side_chain, clock),
        });
        let frames = main.first().map_or(0, |channel| channel.len() as u64);
        self.frames += frames;
        if !self.deaf {
            self.measured += frames;
        }
    }

    /// The clocks at the next frame.
    fn clock(&self, utc: OffsetDateTime) -> Clock {
        let (since, host_s) = self.host;
        let passed_s = (self.frames as f64 - since as f64) / self.bus.rate_hz;
        Clock { host_s: host_s.map(|host_s| host_s + passed_s), utc: Some(utc) }
    }
}

/// What finds the entries of a bus, as [`Measuring`](crate::rebuild::Measuring) measures it.
fn entries(bus: Bus, settings: Settings) -> Option<Entries> {
    let view = View::default();
    match bus.surround() {
        Some(surround) => Entries::for_channels(bus.rate_hz, surround.roles, settings, view),
        None => Entries::new(bus.rate_hz, bus.main, bus.side_chain, settings, view),
    }
    .ok()
}
