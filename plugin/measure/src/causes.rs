//! Causes: what takes or hides room, and what each of them costs.
//!
//! P is the highest peak of the bus: the largest sample of the whole band; its true peak; the true
//! peak after the low-pass alone; the true peak after both filters, which is the audible band's. The
//! difference from each to the next is a price: that of the inter-sample peak (usually negative: it
//! takes room that the meter does not show), that of what lies above the upper edge, that of what
//! lies below the lower edge, DC included. So the prices add up to the room withheld. A price depends
//! on the order, so each cause also says what the peak would fall by if it alone were taken away.

mod peaks;
mod sentence;
mod since;

use serde::ser::SerializeStruct;
use serde::{Serialize, Serializer};

use crate::level::{Level, summable};
use crate::settings::Edges;
pub(crate) use peaks::Peaks;
pub(crate) use since::Onsets;

/// Prices whose moments are kept, in dB, either way.
pub const GROWTH_DB: [f64; 5] = [1.0, 2.0, 3.0, 6.0, 10.0];

/// How many causes there can be.
pub const MOST_CAUSES: usize = 3;

/// One thing that takes or hides room.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum CauseCode {
    /// The waveform rises between the samples.
    InterSample,
    /// What lies above the upper edge.
    Above,
    /// What lies below the lower edge, DC included.
    Below,
}

/// A cause with its price.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cause {
    /// Which.
    pub code: CauseCode,
    /// What it changes the room by, in the order of the account; positive: it keeps room back.
    pub price_db: f64,
    /// What the true peak would fall by if this alone were taken away; negative: it would rise.
    pub alone_db: f64,
    /// Since when it costs as much as each of [`GROWTH_DB`], either way, in seconds since reset; none
    /// where it costs less.
    pub grew_s: [Option<f64>; GROWTH_DB.len()],
    /// The strongest steady tone in it, in Hz, where there is one.
    pub tone_hz: Option<f64>,
    edges: Edges,
}

impl Cause {
    /// Since when it costs 1 dB or more, either way, in seconds since reset; none where it costs less.
    #[must_use]
    pub fn since_s(&self) -> Option<f64> {
        self.grew_s[0]
    }

    /// The cause in plain words. Allocates.
    #[must_use]
    pub fn sentence(&self) -> String {
        sentence::of(self)
    }

    /// The cause as a row of the account names it.
    #[must_use]
    pub fn word(&self) -> String {
        sentence::word(self)
    }
}

/// Since when a price is at least so much.
#[derive(Serialize)]
struct Growth {
    price_db: f64,
    since_s: f64,
}

impl Serialize for Cause {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut record = serializer.serialize_struct("cause", 7)?;
        record.serialize_field("code", &self.code)?;
        record.serialize_field("price_db", &self.price_db)?;
        record.serialize_field("alone_db", &self.alone_db)?;
        record.serialize_field("since_s", &self.since_s())?;
        let grew = GROWTH_DB.into_iter().zip(self.grew_s);
        let grew: Vec<Growth> = grew
            .filter_map(|(price_db, since_s)| Some(Growth { price_db, since_s: since_s? }))
            .collect();
        record.serialize_field("grew", &grew)?;
        record.serialize_field("tone_hz", &self.tone_hz)?;
        record.serialize_field("sentence", &self.sentence())?;
        record.end()
    }
}

/// The causes, in the order of the account; none where there is no room to speak of.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Causes {
    causes: [Option<Cause>; MOST_CAUSES],
}

impl Causes {
    /// The causes, in the order of the account.
    pub fn iter(&self) -> impl Iterator<Item = &Cause> {
        self.causes.iter().flatten()
    }
}

impl Serialize for Causes {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.iter())
    }
}

/// What the account is made from.
pub(crate) struct Account {
    /// The highest peaks of the bus.
    pub(crate) peaks: Peaks,
    /// The true peak after the high-pass alone.
    pub(crate) above_lower_edge: Level,
    /// Since when each costs what.
    pub(crate) since_s: [[Option<f64>; GROWTH_DB.len()]; MOST_CAUSES],
    /// Whether so much lies beyond what the true peak is exact for that it cannot be told from what
    /// lies between the samples.
    pub(crate) merges: bool,
    /// The strongest tones above and below the audible band, in Hz.
    pub(crate) tones_hz: [Option<f64>; 2],
    pub(crate) edges: Edges,
    /// What the prices add up to.
    pub(crate) withheld_db: Level,
}

impl Account {
    /// The causes with their prices, which add up to the room withheld to the last digit.
    pub(crate) fn causes(&self) -> Causes {
        self.priced().map_or_else(Causes::default, |causes| Causes { causes })
    }

    fn priced(&self) -> Option<[Option<Cause>; MOST_CAUSES]> {
        let withheld_db = self.withheld_db.finite()?;
        let [sample, whole, low_passed, _] = self.peaks.levels().map(Level::finite);
        let (sample, whole, low_passed) = (sample?, whole?, low_passed?);
        let alone_below_db = whole - self.above_lower_edge.finite()?;
        let [since_inter, since_above, since_below] = self.since_s;
        // How the two that are one have grown was not followed.
        let since_above = since_above.map(|since| since.filter(|_| !self.merges));
        let [tone_above, tone_below] = self.tones_hz;
        let cause = |code, price_db, alone_db, grew_s, tone_hz| {
            Some(Cause { code, price_db, alone_db, grew_s, tone_hz, edges: self.edges })
        };
        let (inter_db, above_db) = if self.merges {
            (None, summable(sample - low_passed))
        } else {
            (Some(summable(sample - whole)), summable(whole - low_passed))
        };
        let below_db = withheld_db - inter_db.unwrap_or(0.0) - above_db;
        Some([
            inter_db.and_then(|price_db| {
                cause(CauseCode::InterSample, price_db, whole - sample, since_inter, None)
            }),
            cause(CauseCode::Above, above_db, whole - low_passed, since_above, tone_above),
            cause(CauseCode::Below, below_db, alone_below_db, since_below, tone_below),
        ])
    }
}
