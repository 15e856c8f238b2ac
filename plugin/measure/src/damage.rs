//! Damage: what clipping would add. The excess of a sample x over a limit L is x less x clipped there,
//! `x − max(−L, min(x, L))`; what is heard of it is the excess in the audible band, taken by the same
//! linear-phase filters as the programme.
//!
//! Its level is told over the whole stretch, and where it is worst: in the 100 ms in which something
//! lies over the limit and the excess comes nearest to the audible programme. What was clipped before
//! it came here cannot be worked out.

mod sentence;

use std::ops::{AddAssign, Range};

use crate::batch::PairBatch;
use crate::level::Level;
use crate::reading::{Damage, OverTimes};
use crate::settings::{ClipAt, View};

/// Hops of 10 ms in the stretch that is looked at for the worst.
const WORST_HOPS: usize = 10;

/// What clipping at a linear `limit` takes off a sample.
#[must_use]
pub fn excess(sample: f32, limit: f32) -> f32 {
    sample - sample.clamp(-limit, limit)
}

/// The linear limit that clipping is thought at, full scale or a ceiling in dBFS.
#[must_use]
pub fn limit(clip_at: ClipAt, ceiling_db: f64) -> f32 {
    match clip_at {
        ClipAt::FullScale => 1.0,
        ClipAt::Ceiling => 10f64.powf(ceiling_db / 20.0) as f32,
    }
}

/// Energies over some frames.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Programme {
    /// Of the audible band, all channels.
    pub(crate) energy: f64,
    pub(crate) frames: u64,
}

/// What one hop brings.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct DamageHop {
    /// Energy of the excess in the audible band, all channels.
    energy: f64,
    samples: u64,
    runs: u64,
    /// The first and the last frame over the limit, since reset.
    over: Option<(u64, u64)>,
}

impl AddAssign for DamageHop {
    fn add_assign(&mut self, later: Self) {
        self.energy += later.energy;
        self.samples += later.samples;
        self.runs += later.runs;
        self.over = match (self.over, later.over) {
            (Some((first, _)), Some((_, last))) => Some((first, last)),
            (earlier, later) => earlier.or(later),
        };
    }
}

/// Some hops in a row.
#[derive(Debug, Clone, Copy, Default)]
struct Stretch {
    damage: DamageHop,
    programme: Programme,
}

impl AddAssign for Stretch {
    fn add_assign(&mut self, later: Self) {
        self.damage += later.damage;
        self.programme.energy += later.programme.energy;
        self.programme.frames += later.programme.frames;
    }
}

impl Stretch {
    /// Whether it is one to tell of, and the excess comes nearer to the programme than in `other`.
    fn is_worse_than(&self, other: &Self) -> bool {
        self.damage.samples > 0
            && self.programme.energy > 0.0
            && self.damage.energy * other.programme.energy
                > other.damage.energy * self.programme.energy
    }
}

/// A stretch, and the frame since reset at which it ends.
#[derive(Debug, Clone, Copy)]
struct Worst {
    stretch: Stretch,
    end: u64,
}

/// The damage of a bus since reset.
pub(crate) struct DamageBook {
    clip_at: ClipAt,
    ceiling_db: f64,
    /// Whether the samples are words of integers, which are clipped already where they would be.
    is_integer: bool,
    limit: f32,
    /// `[pair]` of A and B: whether the latest sample lay over the limit.
    inside: Vec<[bool; 2]>,
    hop: DamageHop,
    total: DamageHop,
    /// The latest hops, in a ring.
    latest: [Stretch; WORST_HOPS],
    next: usize,
    worst: Option<Worst>,
    /// What of the audible energy was measured against another limit.
    before: Programme,
}

impl DamageBook {
    /// A book for `pairs` pairs of channels. Allocates.
    pub(crate) fn new(pairs: usize) -> Self {
        let (clip_at, ceiling_db) = (ClipAt::default(), View::default().ceiling_db);
        Self {
            clip_at,
            ceiling_db,
            is_integer: false,
            limit: limit(clip_at, ceiling_db),
            inside: vec![[false; 2]; pairs],
            hop: DamageHop::default(),
            total: DamageHop::default(),
            latest: [Stretch::default(); WORST_HOPS],
            next: 0,
            worst: None,
            before: Programme::default(),
        }
    }

    /// Sets where clipping is thought; `programme` is the audible band's since reset. A change starts
    /// the measure afresh.
    pub(crate) fn set_limit(&mut self, clip_at: ClipAt, ceiling_db: f64, programme: Programme) {
        (self.clip_at, self.ceiling_db) = (clip_at, ceiling_db);
        let limit = limit(clip_at, ceiling_db);
        if limit != self.limit {
            self.limit = limit;
            self.reset();
            self.before = programme;
        }
    }

    /// Says whether the samples are words of integers.
    pub(crate) fn set_integer(&mut self, is_integer: bool) {
        self.is_integer = is_integer;
    }

    /// Where clipping is thought.
    pub(crate) fn clip_at(&self) -> ClipAt {
        self.clip_at
    }

    /// The ceiling that it may be thought at, in dBFS.
    pub(crate) fn ceiling_db(&self) -> f64 {
        self.ceiling_db
    }

    /// The linear limit, where the excess over it can be worked out.
    pub(crate) fn limit(&self) -> Option<f32> {
        (!self.is_integer || self.limit < 1.0).then_some(self.limit)
    }

    /// Clears what was measured.
    pub(crate) fn reset(&mut self) {
        self.cut();
        self.begin();
    }

    /// Counts from here on, as a part of a longer signal: a run that is open goes on.
    pub(crate) fn begin(&mut self) {
        self.hop = DamageHop::default();
        self.total = DamageHop::default();
        self.latest = [Stretch::default(); WORST_HOPS];
        self.worst = None;
        self.before = Programme::default();
    }

    /// What comes does not continue what came.
    pub(crate) fn cut(&mut self) {
        self.inside.fill([false; 2]);
    }

    /// Goes on where `later` stands, which began where this ends; its hops come for themselves.
    pub(crate) fn append(&mut self, later: Self) {
        self.inside = later.inside;
        self.hop = later.hop;
    }

    /// Takes the frames `range` of a batch, the first of which is frame `first` since reset, and what
    /// is audible of their excess: `[pair]` each.
    pub(crate) fn take(
        &mut self,
        whole: &[PairBatch],
        excess: &[PairBatch],
        range: Range<usize>,
        first: u64,
    ) {
        for ((whole, excess), inside) in whole.iter().zip(excess).zip(&mut self.inside) {
            let [in_a, in_b] = inside;
            for (samples, excess, inside) in
                [(&whole.a, &excess.a, in_a), (&whole.b, &excess.b, in_b)]
            {
                let excess = &excess[range.clone()];
                self.hop.energy += excess.iter().map(|&x| f64::from(x) * f64::from(x)).sum::<f64>();
                for (frame, sample) in (first..).zip(&samples[range.clone()]) {
                    let over = sample.abs() > self.limit;
                    if over {
                        self.hop.samples += 1;
                        self.hop.runs += u64::from(!*inside);
                        let (from, to) = self.hop.over.unwrap_or((frame, frame));
                        self.hop.over = Some((from.min(frame), to.max(frame)));
                    }
                    *inside = over;
                }
            }
        }
    }

    /// Closes a hop and says what it brought.
    pub(crate) fn end_hop(&mut self) -> DamageHop {
        std::mem::take(&mut self.hop)
    }

    /// Takes a hop, beside which the programme was as it is said to be, and which ends at frame `end`
    /// since reset.
    pub(crate) fn push_hop(&mut self, damage: DamageHop, programme: Programme, end: u64) {
        self.total += damage;
        self.latest[self.next] = Stretch { damage, programme };
        self.next = (self.next + 1) % WORST_HOPS;
        // Before that there are no 100 ms.
        if self.latest[self.next].programme.frames > 0 {
            self.worst = self.worst_with(None, end);
        }
    }

    /// The worst so far: the one that is known, or the latest hops with an open one behind them.
    fn worst_with(&self, open: Option<Stretch>, end: u64) -> Option<Worst> {
        let from = self.next + usize::from(open.is_some());
        let hops = (from..self.next + WORST_HOPS).map(|hop| self.latest[hop % WORST_HOPS]);
        let mut stretch = Stretch::default();
        hops.chain(open).for_each(|hop| stretch += hop);
        let is_worse = match &self.worst {
            Some(worst) => stretch.is_worse_than(&worst.stretch),
            None => stretch.damage.samples > 0 && stretch.programme.energy > 0.0,
        };
        if is_worse { Some(Worst { stretch, end }) } else { self.worst }
    }

    /// The reading, with the flat tops that were found. `programme` is the audible band's since reset,
    /// `open` that of the hop that is open; `channels` of the bus, `offset_db` of the RMS reference;
    /// `overs` are those at full scale.
    pub(crate) fn read(
        &self,
        [programme, open]: [Programme; 2],
        context: &Context,
        (flat_tops, flat_top_times_s): (u64, OverTimes),
    ) -> Damage {
        let Context { rate_hz, channels, offset_db, overs } = *context;
        let (mut total, frames) = (self.total, programme.frames - self.before.frames);
        total += self.hop;
        let limit_dbfs = Level::from_amplitude(f64::from(self.limit));
        let counts = |count: u64| self.limit().map(|_| count);
        // What stands at full scale, or flat below it, may have lost something on its way here.
        let is_lost = total.samples == 0 && (overs > 0 || flat_tops > 0);
        let is_known = self.limit().is_some() && !is_lost && frames > 0;
        let rms = |energy: f64, frames: u64| {
            Level::from_power(energy / (frames as f64 * channels)).plus(offset_db)
        };
        let ratio = |energy: f64, programme: f64| Level::from_power(energy / programme);
        let told = |level: Level| if is_known { level } else { Level::NONE };
        let seconds = |frame: u64| frame as f64 / rate_hz;
        // Of less than 100 ms, all of it.
        let all = || {
            self.worst_with(Some(Stretch { damage: self.hop, programme: open }), programme.frames)
        };
        let worst = self.worst.or_else(all).filter(|_| is_known);
        Damage {
            limit_dbfs,
            clipped_samples: counts(total.samples),
            clipped_runs: counts(total.runs),
            first_clipped_s: total.over.map(|(first, _)| seconds(first)),
            last_clipped_s: total.over.map(|(_, last)| seconds(last)),
            audible_dbfs: told(rms(total.energy, frames)),
            re_programme_db: told(ratio(total.energy, programme.energy - self.before.energy)),
            worst_audible_dbfs: worst.map_or(Level::NONE, |Worst { stretch, .. }| {
                rms(stretch.damage.energy, stretch.programme.frames)
            }),
            worst_re_programme_db: worst.map_or(Level::NONE, |Worst { stretch, .. }| {
                ratio(stretch.damage.energy, stretch.programme.energy)
            }),
            worst_at_s: worst
                .map(|worst| seconds(worst.end.saturating_sub(worst.stretch.programme.frames))),
            is_lost: self.is_integer || is_lost,
            flat_tops,
            flat_top_times_s,
        }
    }
}

impl Damage {
    /// What clipping would add, in plain words; `None` where there is nothing to tell. Allocates.
    #[must_use]
    pub fn sentence(&self) -> Option<String> {
        sentence::of(self)
    }
}

/// What a reading of damage depends on besides.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Context {
    pub(crate) rate_hz: f64,
    /// Of the bus.
    pub(crate) channels: f64,
    /// Of the RMS reference.
    pub(crate) offset_db: f64,
    /// Runs of samples at or over full scale.
    pub(crate) overs: u64,
}
