//! What was found, with the numbers behind it. Field names, with their units, are the record's keys;
//! a number that there is none of is NaN, and `null` in the record.

use serde::Serialize;

use super::Code;
use super::thresholds::{NOTHING_DB, READING_DB};
use crate::level::Level;

/// What was found.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(untagged)]
#[allow(missing_docs, reason = "the fields are named as in the reading, where they are explained")]
pub enum Fact {
    InvalidInput {
        frames: f64,
    },
    Overs {
        overs: f64,
        sample_peak_dbfs: f64,
        audible_true_peak_dbtp: f64,
        true_room_db: f64,
        room_now_db: f64,
        damage: Clipped,
    },
    Damage(Clipped),
    HalvesCancel {
        correlation: f64,
        sum_gain_energy_db: f64,
    },
    RoomWithheld(Withheld),
    OverCeiling {
        true_room_db: f64,
        room_now_db: f64,
        ceiling_db: f64,
    },
    PeaksMislead(Misleading),
    RoomOverstated {
        withheld_db: f64,
        room_db: f64,
        true_room_db: f64,
        room_now_db: f64,
    },
    LimiterOnHidden {
        hidden_db: f64,
        whole_db: f64,
    },
    LoudnessReadsHidden {
        over_lu: f64,
        whole_lufs: f64,
        audible_lufs: f64,
        above_share: f64,
        below_share: f64,
        low_edge_hz: f64,
        high_edge_hz: f64,
    },
    LiftLimited {
        lift_db: f64,
        lift_allowed_db: f64,
        lift_now_db: f64,
    },
    LiftFree {
        lift_db: f64,
        true_room_db: f64,
        lift_now_db: f64,
    },
    AboveTarget {
        lift_db: f64,
    },
    HalvesIdentical {
        correlation: f64,
        level_difference_db: f64,
        sum_gain_energy_db: f64,
        sides_db: f64,
    },
    HiddenTone {
        tone_hz: f64,
        tone_dbfs: f64,
        re_audible_db: f64,
    },
    FlatTops {
        flat_tops: f64,
    },
    Rumble {
        below_dbfs: f64,
        below_share: f64,
        low_edge_hz: f64,
    },
    Dc {
        dc_dbfs: f64,
    },
    /// NaN before the first signal.
    Silence {
        silent_s: f64,
    },
    Clean {
        true_room_db: f64,
        ceiling_db: f64,
    },
}

/// Room that a meter keeps back, and for what.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Withheld {
    /// Audible room less the meter's.
    pub withheld_db: f64,
    /// The meter's room.
    pub room_db: f64,
    /// The audible room.
    pub true_room_db: f64,
    /// Share of the energy above the upper edge, 0 to 1.
    pub above_share: f64,
    /// Share of the energy below the lower edge.
    pub below_share: f64,
    /// Share of the energy that is DC.
    pub dc_share: f64,
    /// Lower edge of the audible band.
    pub low_edge_hz: f64,
    /// Upper edge of the audible band.
    pub high_edge_hz: f64,
    /// The strongest tone above the upper edge; NaN where there is none.
    pub tone_above_hz: f64,
    /// The strongest tone below the lower edge; NaN where there is none.
    pub tone_below_hz: f64,
    /// How far the mix may be lifted; NaN where that is not known.
    pub lift_allowed_db: f64,
    /// What lies above the upper edge.
    pub above: Taker,
    /// What lies below the lower edge, DC included.
    pub below: Taker,
}

/// What takes room on one side of the audible band.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Taker {
    /// Its price in the account; NaN where there is no account.
    pub price_db: f64,
    /// Since when it costs 1 dB or more, in seconds since reset; NaN where it costs less.
    pub since_s: f64,
    /// Share of its energy that its strongest tone holds, 0 to 1; NaN where there is none.
    pub tone_share: f64,
}

/// What clipping would add.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Clipped {
    /// Where clipping is thought.
    pub limit_dbfs: f64,
    /// Runs of samples over it; NaN where the samples are words of integers, which end there.
    pub clipped_runs: f64,
    /// When the first and the last came, in seconds since reset.
    pub first_clipped_s: f64,
    /// See there.
    pub last_clipped_s: f64,
    /// What clipping takes off against the programme, in the audible band, in the worst 100 ms.
    pub worst_re_programme_db: f64,
    /// How far the highest peak lies over the limit: sample or true peak, whichever band.
    pub over_db: f64,
}

impl Taker {
    /// Nothing known.
    pub const NONE: Self = Self { price_db: f64::NAN, since_s: f64::NAN, tone_share: f64::NAN };
}

impl Withheld {
    /// Which sides take room: above, below. The dearer one, and the other where it costs enough to be
    /// named beside it; neither where there is no account.
    pub(crate) fn takes(&self) -> [bool; 2] {
        let prices = [self.above.price_db, self.below.price_db];
        let dearest = prices[0].max(prices[1]);
        prices.map(|price| price >= NOTHING_DB && (price >= READING_DB || price >= dearest))
    }
}

/// A sum whose peaks say something else than its energy.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Misleading {
    /// Correlation of the halves, −1 to 1.
    pub correlation: f64,
    /// Sum gain by energy, against the power sum.
    pub sum_gain_energy_db: f64,
    /// The same by sample peak.
    pub sum_gain_peak_db: f64,
    /// Half A over half B.
    pub level_difference_db: f64,
    /// Sum gain by energy in the audible band; NaN where there is none.
    pub audible_gain_energy_db: f64,
    /// The same by sample peak.
    pub audible_gain_peak_db: f64,
    /// By how much half B comes later; negative where A does, NaN where no copy was found.
    pub copy_delay_ms: f64,
    /// 1 where the copy is inverted, else 0.
    pub copy_inverted: f64,
    /// Correlation with the delay taken out; NaN where it is not known.
    pub copy_correlation: f64,
}

impl Fact {
    /// What a bus without findings can be told.
    pub(crate) fn clean(true_room_db: Level, ceiling_db: f64) -> Self {
        Self::Clean { true_room_db: true_room_db.db().unwrap_or(f64::NAN), ceiling_db }
    }

    /// The fact without its numbers.
    #[must_use]
    pub fn code(&self) -> Code {
        match self {
            Self::InvalidInput { .. } => Code::InvalidInput,
            Self::Overs { .. } => Code::Overs,
            Self::Damage(_) => Code::Damage,
            Self::HalvesCancel { .. } => Code::HalvesCancel,
            Self::RoomWithheld(_) => Code::RoomWithheld,
            Self::OverCeiling { .. } => Code::OverCeiling,
            Self::PeaksMislead(_) => Code::PeaksMislead,
            Self::RoomOverstated { .. } => Code::RoomOverstated,
            Self::LimiterOnHidden { .. } => Code::LimiterOnHidden,
            Self::LoudnessReadsHidden { .. } => Code::LoudnessReadsHidden,
            Self::LiftLimited { .. } => Code::LiftLimited,
            Self::LiftFree { .. } => Code::LiftFree,
            Self::AboveTarget { .. } => Code::AboveTarget,
            Self::HalvesIdentical { .. } => Code::HalvesIdentical,
            Self::HiddenTone { .. } => Code::HiddenTone,
            Self::FlatTops { .. } => Code::FlatTops,
            Self::Rumble { .. } => Code::Rumble,
            Self::Dc { .. } => Code::Dc,
            Self::Silence { .. } => Code::Silence,
            Self::Clean { .. } => Code::Clean,
        }
    }
}
