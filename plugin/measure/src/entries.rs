//! Entries: the bus's time as a list of stretches, each between two changes or marks, with a reading of
//! its own, and what changed from each to the next.
//!
//! A pure core: it takes samples and gives entries, so that a file and a bus give the same. Samples are
//! gathered into batches of 128 frames. A finder hears them at once and says where a level steps. A meter
//! hears them later, by as long as the finder may need, so that each frame is measured in the entry it
//! belongs to; frames that the band's filters join to another entry are left out. Not for an audio
//! thread: it allocates, and transforms come all at once.

mod cepstrum;
pub mod change;
mod clock;
mod comb_watch;
mod entry;
mod evidence;
mod finder;
mod levels;
mod list;
mod planned;
mod stretch;
mod under_way;

use std::collections::VecDeque;

use crate::batch::{BATCH_FRAMES, PairBatch};
use crate::channel::ChannelRole;
use crate::meter::Meter;
use crate::meter::inlet::Inlet;
use crate::meter::layout::Layout;
use crate::settings::{Halves, Settings, SettingsError, View};
pub use change::Change;
pub use clock::Clock;
use comb_watch::CombWatch;
pub use entry::{ENTRY_SCHEMA, Entry};
use finder::{Edge, Finder, Found, LOOKS_BACK_S, Row};
pub use levels::{BandLevels, EntryLevels, ShownLevels};
pub use list::{EntryList, MOST_ENTRIES};
use planned::Plan;
pub use stretch::{OpenedBy, Stretch};
use under_way::UnderWay;

/// Shorter stretches are transitions, in seconds.
pub const LEAST_S: f64 = 0.5;

const BATCH: u64 = BATCH_FRAMES as u64;

/// A batch that waits for the meter.
#[derive(Clone, Copy)]
struct Waiting {
    /// At its first frame.
    clock: Clock,
    /// Whether it is to be measured.
    counts: bool,
    /// Whether it goes on from the batch before.
    joins: bool,
    /// Frames that held what is no sample.
    invalid: u64,
}

/// Finds the entries of a bus.
pub struct Entries {
    meter: Meter,
    view: View,
    pairs: usize,
    inlet: Inlet,
    finder: Finder,
    comb_watch: CombWatch,
    /// The batch that fills.
    filling: Waiting,
    waiting: VecDeque<Waiting>,
    batches: VecDeque<PairBatch>,
    rows: VecDeque<Row>,
    /// Seconds of sound before the first frame.
    origin_s: f64,
    /// Frames that have come in whole batches, and of them those that the meter has heard.
    taken: u64,
    fed: u64,
    plan: Plan,
    /// A step that may turn out to be none.
    likely: Option<Edge>,
    under_way: Option<UnderWay>,
    list: EntryList,
    /// Where the entry under way ended on other clocks, once that has been heard.
    end_clock: Option<Clock>,
    latest_clock: Clock,
    next_number: u64,
}

impl Entries {
    /// The entries of a bus as [`Meter::new`] would measure it.
    ///
    /// # Errors
    ///
    /// Those of [`Meter::new`].
    pub fn new(
        rate_hz: f64,
        main: usize,
        side_chain: usize,
        settings: Settings,
        view: View,
    ) -> Result<Self, SettingsError> {
        let layout = Layout::of_inputs(main, side_chain, settings.halves)?;
        Self::of_layout(rate_hz, layout, settings, view)
    }

    /// The entries of a bus as [`Meter::for_channels`] would measure it.
    ///
    /// # Errors
    ///
    /// Those of [`Meter::for_channels`].
    pub fn for_channels(
        rate_hz: f64,
        roles: &[ChannelRole],
        settings: Settings,
        view: View,
    ) -> Result<Self, SettingsError> {
        let halves = if roles.len() == 1 { Halves::Mono } else { Halves::LeftRight };
        let settings = Settings { halves, ..settings };
        Self::of_layout(rate_hz, Layout::of_channels(roles)?, settings, view)
    }

    fn of_layout(
        rate_hz: f64,
        layout: Layout,
        settings: Settings,
        view: View,
    ) -> Result<Self, SettingsError> {
        let mut meter = Meter::of_layout(rate_hz, layout.clone(), settings)?;
        meter.keep_detail();
        meter.draw_at_the_end();
        meter.set_ceiling_db(view.ceiling_db);
        meter.set_your_meter(view.your_meter.map(|meter| meter.kind));
        meter.clip_at(view.clip_at);
        let pairs = layout.pairs.len();
        Ok(Self {
            finder: Finder::new(rate_hz, settings.edges, pairs, layout.halves_pairs),
            comb_watch: CombWatch::new(rate_hz, layout.halves_pairs),
            meter,
            view,
            pairs,
            inlet: Inlet::new(&layout),
            filling: Waiting { clock: Clock::default(), counts: true, joins: true, invalid: 0 },
            waiting: VecDeque::new(),
            batches: VecDeque::new(),
            rows: VecDeque::new(),
            origin_s: 0.0,
            taken: 0,
            fed: 0,
            plan: Plan::default(),
            likely: None,
            under_way: Some(UnderWay::new(1, OpenedBy::Start, 0, Clock::default())),
            list: EntryList::default(),
            end_clock: None,
            latest_clock: Clock::default(),
            next_number: 2,
        })
    }

    /// Goes on where `before` stands, which is finished: numbers, times and the list go on.
    #[must_use]
    pub fn going_on_from(mut self, before: Self) -> Self {
        self.origin_s = before.origin_s + before.taken as f64 / before.meter.rate_hz();
        let opened_by =
            if before.list.last().is_none() { OpenedBy::Start } else { OpenedBy::Settings };
        self.under_way = Some(UnderWay::new(before.next_number, opened_by, 0, Clock::default()));
        self.next_number = before.next_number + 1;
        self.list = before.list;
        self
    }

    /// How readings are shown from here on.
    pub fn set_view(&mut self, view: View) {
        if self.view.ceiling_db != view.ceiling_db {
            self.meter.set_ceiling_db(view.ceiling_db);
        }
        self.meter.set_your_meter(view.your_meter.map(|meter| meter.kind));
        self.meter.clip_at(view.clip_at);
        self.view = view;
    }

    /// Takes a block as [`Meter::process`] does, whose first frame lies at `clock`.
    pub fn take(&mut self, main: &[&[f32]], side_chain: &[&[f32]], clock: Clock) {
        self.take_block(main, side_chain, clock, true);
    }

    /// Takes a block that is not to be measured, as [`Meter::pass`] does. The entry under way ends; with
    /// the next block that is measured another begins.
    pub fn pass(&mut self, main: &[&[f32]], side_chain: &[&[f32]], clock: Clock) {
        self.take_block(main, side_chain, clock, false);
    }

    /// The next frame begins another entry.
    pub fn open(&mut self, by: OpenedBy) {
        let frame = self.taken + if self.inlet.holds_frames() { BATCH } else { 0 };
        if by != OpenedBy::Mark {
            self.cut();
        }
        self.plan(Edge { end: frame, start: frame }, Some(by));
    }

    /// What comes next does not go on from what came, and belongs to the same entry: a loop returns.
    pub fn splice(&mut self) {
        self.filling.joins = false;
        self.cut();
    }

    /// Some sound is missing here.
    pub fn miss(&mut self) {
        self.splice();
        if let Some(under_way) = &mut self.under_way {
            under_way.incomplete = true;
        }
    }

    /// Ends the entry under way, as at the end of a file.
    pub fn finish(&mut self) {
        self.feed(self.taken);
        let count = self.inlet.waiting();
        let frames = self.taken + count as u64;
        if count > 0 {
            let counts = self.filling.counts && self.counts(self.fed);
            self.inlet.fill_with_silence();
            let batch = self.inlet.take_batch();
            self.meter.take_batch(batch, count, self.filling.invalid, counts);
        }
        self.meter.finish();
        let seconds = count as f64 / self.meter.rate_hz();
        self.end_clock.get_or_insert(self.latest_clock.after(seconds));
        self.taken = frames;
        self.fed = frames;
        self.close(frames);
        self.meter.restart();
        self.cut();
        self.plan = Plan::default();
    }

    /// The entries that have ended.
    #[must_use]
    pub fn list(&self) -> &EntryList {
        &self.list
    }

    /// The entry under way, as it stands, with what changed from the one before.
    #[must_use]
    pub fn under_way(&mut self) -> Option<Entry> {
        self.meter.draw_now();
        let under_way = self.under_way.as_ref()?;
        let stretch = under_way.stretch(&self.meter, &self.view, self.fed, self.latest_clock);
        Some(self.entry(stretch))
    }

    /// Where the latest entry begins, in seconds, as far as that is known: a step that has just been
    /// found may yet turn out to be none.
    #[must_use]
    pub fn newest_start_s(&self) -> f64 {
        let frame = self
            .likely
            .map(|edge| edge.start)
            .or_else(|| self.plan.last_start())
            .or_else(|| self.under_way.as_ref().map(|under_way| under_way.start))
            .unwrap_or(self.taken);
        self.origin_s + frame as f64 / self.meter.rate_hz()
    }

    /// The finder forgets what came before.
    fn cut(&mut self) {
        self.finder.cut();
        self.comb_watch.cut();
        self.likely = None;
    }

    fn take_block(&mut self, main: &[&[f32]], side_chain: &[&[f32]], clock: Clock, counts: bool) {
        let frames = main.iter().map(|channel| channel.len()).min().unwrap_or(0);
        if frames > 0 && counts != self.measures() {
            self.switch(counts);
        }
        let rate_hz = self.meter.rate_hz();
        let mut taken = 0;
        while taken < frames {
            if !self.inlet.holds_frames() {
                self.filling.clock = clock.after(taken as f64 / rate_hz);
                self.filling.counts = counts;
            }
            self.filling.counts &= counts;
            let invalid = self.inlet.invalid_frames();
            taken += self.inlet.take(main, side_chain, taken..frames);
            self.filling.invalid += self.inlet.invalid_frames() - invalid;
            self.latest_clock = clock.after(taken as f64 / rate_hz);
            if self.inlet.is_full() {
                self.take_batch();
            }
        }
    }

    /// Whether what comes is to be measured, as far as has been said.
    fn measures(&self) -> bool {
        self.plan
            .last_opened_by()
            .unwrap_or(self.under_way.as_ref().map(|one| one.opened_by))
            .is_some()
    }

    fn switch(&mut self, counts: bool) {
        if counts {
            self.open(OpenedBy::Bypass);
        } else {
            self.cut();
            let frame = self.taken;
            self.plan(Edge { end: frame, start: frame }, None);
        }
    }

    fn take_batch(&mut self) {
        let batch = self.inlet.take_batch();
        self.taken += BATCH;
        self.batches.extend(batch.iter().copied());
        let fresh = Waiting { joins: true, invalid: 0, ..self.filling };
        let filled = std::mem::replace(&mut self.filling, fresh);
        self.waiting.push_back(filled);
        let (mut found, mut moved) = (None, None);
        if filled.counts {
            let rows = &mut self.rows;
            found = self.finder.take(batch, self.taken, |row| rows.push_back(*row));
            moved = self.comb_watch.take(batch, self.taken);
        }
        match found {
            Some(Found::Likely(edge)) => self.likely = Some(edge),
            Some(Found::Not) => self.likely = None,
            Some(Found::Sure(edge)) => {
                self.likely = None;
                self.plan(edge, Some(OpenedBy::Step));
            }
            None => {}
        }
        if let Some(frame) = moved {
            self.plan(Edge { end: frame, start: frame }, Some(OpenedBy::Step));
        }
        let behind = (LOOKS_BACK_S * self.meter.rate_hz()) as u64;
        self.feed(self.taken.saturating_sub(behind));
    }

    fn plan(&mut self, edge: Edge, by: Option<OpenedBy>) {
        let least = (LEAST_S * self.meter.rate_hz()) as u64;
        let since = self.under_way.as_ref().map(|under_way| under_way.start);
        if !self.plan.add(edge, by, since, least)
            && let (Some(under_way), Some(by)) = (&mut self.under_way, by)
        {
            // The stretch since it began was a transition.
            let number = under_way.number;
            *under_way = UnderWay::new(number, by, edge.start, Clock::default());
            under_way.counts_from = edge.start + self.meter.reach_frames() as u64;
            self.meter.reset();
        }
    }

    /// Lets the meter hear what has come up to a frame.
    fn feed(&mut self, until: u64) {
        while self.fed + BATCH <= until && self.feed_one() {}
    }

    fn counts(&self, frame: u64) -> bool {
        let Some(under_way) = &self.under_way else { return false };
        let reach = self.meter.reach_frames() as u64;
        let end = self.plan.next_end().map_or(u64::MAX, |end| end.saturating_sub(reach));
        frame >= under_way.counts_from && frame + BATCH <= end
    }

    fn feed_one(&mut self) -> bool {
        let Some(waiting) = self.waiting.pop_front() else { return false };
        let batch: Vec<PairBatch> = self.batches.drain(..self.pairs).collect();
        let at = self.fed;
        self.meet_edges(at, waiting.clock);
        if !waiting.joins {
            self.meter.splice();
        }
        let counts = waiting.counts && self.counts(at);
        self.meter.take_batch(&batch, BATCH_FRAMES, waiting.invalid, counts);
        self.fed += BATCH;
        if let Some(under_way) = &mut self.under_way {
            if at <= under_way.start {
                under_way.clock = waiting.clock;
            }
            under_way.follow(&self.meter);
        }
        self.assign_rows();
        true
    }

    /// Gives the entry under way the rows that lie in it.
    fn assign_rows(&mut self) {
        let reach = self.meter.reach_frames() as u64;
        while let Some(row) = self.rows.front().filter(|row| row.frame < self.fed).copied() {
            self.rows.pop_front();
            let end = self.plan.next_end().map_or(u64::MAX, |end| end.saturating_sub(reach));
            if let Some(under_way) = &mut self.under_way
                && row.frame >= under_way.counts_from
                && row.frame < end
            {
                under_way.take_row(&row);
            }
        }
    }

    /// Closes the entry under way once all of it has left the meter's filters, and begins the next.
    fn meet_edges(&mut self, at: u64, clock: Clock) {
        while let Some(next) = self.plan.next().copied() {
            if at >= next.edge.end && self.end_clock.is_none() {
                self.end_clock = Some(clock);
            }
            let delay = self.meter.delay_frames() as u64 + BATCH;
            let left = next.edge.end.saturating_sub(self.meter.reach_frames() as u64) + delay;
            if at < left.max(next.edge.end) {
                return;
            }
            self.plan.pass();
            self.close(next.edge.end);
            self.meter.reset();
            self.under_way = next.opened_by.map(|by| {
                let number = self.next_number;
                self.next_number += 1;
                let mut under_way = UnderWay::new(number, by, next.edge.start, clock);
                under_way.counts_from = next.edge.start + self.meter.reach_frames() as u64;
                under_way
            });
        }
    }

    fn close(&mut self, end: u64) {
        let clock = self.end_clock.take().unwrap_or(self.latest_clock);
        let Some(under_way) = self.under_way.take() else { return };
        let is_short = ((end - under_way.start.min(end)) as f64) < LEAST_S * self.meter.rate_hz();
        let is_all = self.list.last().is_none();
        if self.meter.frames() == 0 || (is_short && !is_all) {
            self.next_number = under_way.number;
            return;
        }
        self.meter.draw_now();
        let entry = self.entry(under_way.stretch(&self.meter, &self.view, end, clock));
        self.list.push(entry);
    }

    /// A stretch on the axis of all, with what changed from the entry before.
    fn entry(&self, mut stretch: Stretch) -> Entry {
        stretch.start_s += self.origin_s;
        stretch.end_s += self.origin_s;
        let change = self.list.last().map(|before| Change::new(before, &stretch));
        Entry { stretch, change }
    }
}
