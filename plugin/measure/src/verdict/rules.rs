//! Which findings a reading has.

use crate::causes::CauseCode;
use crate::finding::thresholds::*;
use crate::finding::{
    Clipped, Code, Fact, Finding, Findings, Misleading, Severity, Taker, Withheld,
};
use crate::level::Level;
use crate::reading::{Half, LateCopy, Reading};
use crate::settings::Edges;

/// All findings on a reading, most important first.
pub(crate) fn judge(reading: &Reading, edges: Edges) -> Findings {
    let mut findings = Findings::default();
    let case = Case { reading, edges };
    let all = if case.has_signal() { case.all() } else { case.without_signal() };
    let all = all.into_iter().flatten();
    all.for_each(|finding| findings.push(finding.between(reading.halves)));
    if findings.as_slice().is_empty() {
        let clean = Fact::clean(reading.room.true_room_db, reading.room.ceiling_db);
        findings.push(Finding::new(Severity::Clear, clean));
    }
    findings.sort();
    findings
}

/// What the rules look at.
struct Case<'a> {
    reading: &'a Reading,
    edges: Edges,
}

/// More rules than a reading has places: no signal meets them all.
type Found = [Option<Finding>; 18];

impl Case<'_> {
    /// Whether there has been any: what all of a measurement lies under is no signal.
    fn has_signal(&self) -> bool {
        let Reading { time_s, ref windows, .. } = *self.reading;
        time_s > 0.0 && windows.silent_s.is_none_or(|silent_s| silent_s < time_s)
    }

    fn without_signal(&self) -> Found {
        let mut found = [None; 18];
        found[0] = Some(Finding::new(Severity::Note, Fact::Silence { silent_s: f64::NAN }));
        found[1] = self.invalid_input();
        found
    }

    /// What says the same as another finding is left to that one.
    fn all(&self) -> Found {
        let overs = self.overs();
        let damage = self.damage_at_the_ceiling();
        let room_withheld = self.room_withheld();
        let rumble = self.rumble();
        let [above, below] = room_withheld.map_or([false; 2], |finding| match finding.fact {
            Fact::RoomWithheld(withheld) => withheld.takes(),
            _ => [false; 2],
        });
        [
            self.silence(),
            self.invalid_input(),
            overs,
            self.halves_cancel(),
            room_withheld,
            damage,
            self.over_ceiling().filter(|finding| {
                let is_told = overs.is_some_and(|overs| is_audible(&overs));
                let is_judged = damage.is_some() && finding.code == Code::OverCeiling;
                !is_told && !is_judged
            }),
            self.peaks_mislead(),
            self.limiter_on_hidden().filter(|_| room_withheld.is_none()),
            self.loudness_reads_hidden(),
            self.lift_limited(),
            self.lift_free(),
            self.above_target(),
            self.halves_identical(),
            self.hidden_tone(above, below || rumble.is_some()),
            self.flat_tops(),
            rumble.filter(|_| !below),
            self.dc().filter(|_| !below),
        ]
    }

    fn silence(&self) -> Option<Finding> {
        let silent_s = self.reading.windows.silent_s.filter(|&silent_s| silent_s >= SILENT_S)?;
        Some(Finding::new(Severity::Note, Fact::Silence { silent_s }))
    }

    fn invalid_input(&self) -> Option<Finding> {
        let frames = self.reading.windows.invalid_frames;
        let fact = Fact::InvalidInput { frames: frames as f64 };
        (frames > 0).then(|| Finding::new(Severity::Fault, fact))
    }

    fn overs(&self) -> Option<Finding> {
        let bus = &self.reading.whole.bus;
        let sample_peak_dbfs = bus.sample_peak_dbfs.finite()?;
        let overs = bus.overs.filter(|&overs| overs > 0)? as f64;
        let audible_true_peak_dbtp = self.reading.audible.bus.true_peak_dbtp.finite()?;
        let true_room_db = self.reading.room.true_room_db.finite()?;
        let room_now_db = self.reading.room_now_db().finite()?;
        let fact = Fact::Overs {
            overs,
            sample_peak_dbfs,
            audible_true_peak_dbtp,
            true_room_db,
            room_now_db,
            damage: self.clipped(sample_peak_dbfs),
        };
        Some(Finding::new(Severity::Fault, fact))
    }

    /// What clipping would add there, where it is thought there.
    fn damage_at_the_ceiling(&self) -> Option<Finding> {
        let damage = &self.reading.damage;
        damage.limit_dbfs.finite().filter(|&db| db < 0.0)?;
        damage.clipped_runs.filter(|&runs| runs > 0)?;
        damage.worst_re_programme_db.finite()?;
        let sample_peak_dbfs = self.reading.whole.bus.sample_peak_dbfs.finite()?;
        Some(Finding::new(Severity::Caution, Fact::Damage(self.clipped(sample_peak_dbfs))))
    }

    fn clipped(&self, sample_peak_dbfs: f64) -> Clipped {
        let Reading { damage, whole, audible, .. } = self.reading;
        let peaks = [whole.bus.true_peak_dbtp, audible.bus.true_peak_dbtp].map(or_nan);
        let highest_db = peaks.into_iter().fold(sample_peak_dbfs, f64::max);
        Clipped {
            limit_dbfs: or_nan(damage.limit_dbfs),
            clipped_runs: damage.clipped_runs.map_or(f64::NAN, |runs| runs as f64),
            first_clipped_s: damage.first_clipped_s.unwrap_or(f64::NAN),
            last_clipped_s: damage.last_clipped_s.unwrap_or(f64::NAN),
            worst_re_programme_db: or_nan(damage.worst_re_programme_db),
            over_db: highest_db - or_nan(damage.limit_dbfs),
        }
    }

    fn halves_cancel(&self) -> Option<Finding> {
        let halves = &self.reading.audible.halves;
        let correlation = halves.correlation?;
        let sum_gain_energy_db = halves.sum_gain_energy_db.db()?;
        let fact = Fact::HalvesCancel { correlation, sum_gain_energy_db };
        (sum_gain_energy_db <= CANCEL_DB).then(|| Finding::new(Severity::Fault, fact))
    }

    fn room_withheld(&self) -> Option<Finding> {
        let room = &self.reading.room;
        let hidden = &self.reading.hidden;
        let tone = |above: bool| hidden.tones.strongest(self.edges, above);
        let tone_hz = |above: bool| tone(above).map_or(f64::NAN, |tone| tone.hz);
        let taker = |code: CauseCode, above: bool, level: Level| {
            let share = tone(above).and_then(|tone| tone.dbfs.minus(level).power());
            let cause = self.reading.causes.iter().find(|cause| cause.code == code);
            cause.map_or(Taker::NONE, |cause| Taker {
                price_db: cause.price_db,
                since_s: cause.since_s().unwrap_or(f64::NAN),
                tone_share: share.unwrap_or(f64::NAN),
            })
        };
        let withheld = Withheld {
            withheld_db: room.withheld_db.finite().filter(|&db| db >= ROOM_DB)?,
            room_db: room.room_db.finite()?,
            true_room_db: room.true_room_db.finite()?,
            above_share: hidden.above_share.unwrap_or(0.0),
            below_share: hidden.below_share.unwrap_or(0.0),
            dc_share: hidden.dc_share.unwrap_or(0.0),
            low_edge_hz: self.edges.low_hz(),
            high_edge_hz: self.edges.high_hz(),
            tone_above_hz: tone_hz(true),
            tone_below_hz: tone_hz(false),
            lift_allowed_db: room.lift_allowed_db.finite().unwrap_or(f64::NAN),
            above: taker(CauseCode::Above, true, hidden.above_dbfs),
            below: taker(CauseCode::Below, false, hidden.below_dbfs),
        };
        let severity =
            if withheld.room_db < PLENTY_DB { Severity::Caution } else { Severity::Note };
        Some(Finding::new(severity, Fact::RoomWithheld(withheld)))
    }

    /// How far the audible true peak lies above the ceiling; under it, where a meter shows room that
    /// is not there, and not much is left.
    fn over_ceiling(&self) -> Option<Finding> {
        let room = &self.reading.room;
        let (room_db, true_room_db) = (room.room_db.finite()?, room.true_room_db.finite()?);
        let withheld_db = room.withheld_db.finite()?;
        let room_now_db = self.reading.room_now_db().finite()?;
        let is_over = true_room_db <= -NOTHING_DB;
        let severity = if is_over { Severity::Caution } else { Severity::Note };
        let fact = if withheld_db <= -ROOM_DB && true_room_db < PLENTY_DB {
            Fact::RoomOverstated { withheld_db, room_db, true_room_db, room_now_db }
        } else if is_over {
            Fact::OverCeiling { true_room_db, room_now_db, ceiling_db: room.ceiling_db }
        } else {
            return None;
        };
        Some(Finding::new(severity, fact))
    }

    fn peaks_mislead(&self) -> Option<Finding> {
        let whole = &self.reading.whole;
        let (halves, audible) = (&whole.halves, &self.reading.audible.halves);
        let copy = self.reading.late_copy.as_ref();
        let misleading = Misleading {
            correlation: halves.correlation.filter(|r| r.abs() < INDEPENDENT)?,
            sum_gain_energy_db: halves.sum_gain_energy_db.finite()?,
            sum_gain_peak_db: halves.sum_gain_peak_db.finite()?,
            level_difference_db: halves.level_difference_db.finite()?,
            audible_gain_energy_db: or_nan(audible.sum_gain_energy_db),
            audible_gain_peak_db: or_nan(audible.sum_gain_peak_db),
            copy_delay_ms: copy.map_or(f64::NAN, signed_delay_ms),
            copy_inverted: f64::from(u8::from(copy.is_some_and(|copy| copy.inverted))),
            copy_correlation: copy.and_then(|copy| copy.correlation).unwrap_or(f64::NAN),
        };
        let apart_db = misleading.sum_gain_peak_db - misleading.sum_gain_energy_db;
        let is_flat_topped = [&whole.a, &whole.b]
            .into_iter()
            .all(|half| half.crest_db.finite().is_some_and(|db| db < FLAT_TOPPED_CREST_DB));
        (is_flat_topped
            && apart_db >= PEAK_OVER_ENERGY_DB
            && misleading.level_difference_db.abs() < LEVEL_DIFFERENCE_DB)
            .then(|| Finding::new(Severity::Note, Fact::PeaksMislead(misleading)))
    }

    fn limiter_on_hidden(&self) -> Option<Finding> {
        let limiter = &self.reading.limiter;
        let hidden_db = limiter.hidden_db.finite().filter(|&db| db >= READING_DB)?;
        let whole_db = limiter.whole_db.finite()?;
        Some(Finding::new(Severity::Note, Fact::LimiterOnHidden { hidden_db, whole_db }))
    }

    fn loudness_reads_hidden(&self) -> Option<Finding> {
        let whole = self.reading.whole.bus.integrated_lufs;
        let audible = self.reading.audible.bus.integrated_lufs;
        let over_lu = whole.minus(audible).finite().filter(|&lu| lu >= READING_DB)?;
        let fact = Fact::LoudnessReadsHidden {
            over_lu,
            whole_lufs: whole.finite()?,
            audible_lufs: audible.finite()?,
            above_share: self.reading.hidden.above_share?,
            below_share: self.reading.hidden.below_share?,
            low_edge_hz: self.edges.low_hz(),
            high_edge_hz: self.edges.high_hz(),
        };
        // White noise at 48 kHz holds 0.7 LU above 20 kHz: good to know, and no more.
        let severity = if over_lu >= LOUDNESS_LU { Severity::Caution } else { Severity::Note };
        Some(Finding::new(severity, fact))
    }

    fn lift_limited(&self) -> Option<Finding> {
        let (lift_db, lift_allowed_db) = self.lift()?;
        let limited = lift_db >= TARGET_DB && lift_allowed_db < lift_db - NOTHING_DB;
        let lift_now_db = or_nan(self.reading.lift_now_db);
        let fact = Fact::LiftLimited { lift_db, lift_allowed_db, lift_now_db };
        limited.then(|| Finding::new(Severity::Note, fact))
    }

    fn lift_free(&self) -> Option<Finding> {
        let (lift_db, allowed_db) = self.lift()?;
        let free = lift_db >= TARGET_DB && allowed_db >= lift_db - NOTHING_DB;
        let true_room_db = or_nan(self.reading.room.true_room_db);
        let lift_now_db = or_nan(self.reading.lift_now_db);
        let fact = Fact::LiftFree { lift_db, true_room_db, lift_now_db };
        free.then(|| Finding::new(Severity::Note, fact))
    }

    fn above_target(&self) -> Option<Finding> {
        let (lift_db, _) = self.lift()?;
        let fact = Fact::AboveTarget { lift_db };
        (lift_db <= -TARGET_DB).then(|| Finding::new(Severity::Note, fact))
    }

    fn halves_identical(&self) -> Option<Finding> {
        let whole = &self.reading.whole;
        let fact = Fact::HalvesIdentical {
            correlation: whole.halves.correlation.filter(|&r| r >= IDENTICAL)?,
            level_difference_db: whole.halves.level_difference_db.finite()?,
            sum_gain_energy_db: whole.halves.sum_gain_energy_db.finite()?,
            sides_db: whole.halves.null_dbfs.minus(whole.sum.rms_dbfs).db()?,
        };
        Some(Finding::new(Severity::Note, fact))
    }

    /// The strongest tone outside the audible band, but for the sides of which more is said.
    fn hidden_tone(&self, above: bool, below: bool) -> Option<Finding> {
        let mut tones = self.reading.hidden.tones.as_slice().iter();
        let is_known = |hz: f64| if hz > self.edges.high_hz() { above } else { below };
        let tone = tones.find(|tone| !is_known(tone.hz))?;
        let re_audible_db = tone.dbfs.minus(self.reading.audible.bus.rms_dbfs).finite()?;
        let tone_dbfs = tone.dbfs.finite()?;
        let fact = Fact::HiddenTone { tone_hz: tone.hz, tone_dbfs, re_audible_db };
        (re_audible_db >= HIDDEN_TONE_DB).then(|| Finding::new(Severity::Note, fact))
    }

    fn flat_tops(&self) -> Option<Finding> {
        let tops = self.reading.damage.flat_tops;
        let fact = Fact::FlatTops { flat_tops: tops as f64 };
        (tops >= FLAT_TOPS).then(|| Finding::new(Severity::Note, fact))
    }

    fn rumble(&self) -> Option<Finding> {
        let hidden = &self.reading.hidden;
        let below_dbfs = hidden.below_dbfs.finite()?;
        let re_audible_db = below_dbfs - self.reading.audible.bus.rms_dbfs.finite()?;
        let (below_share, low_edge_hz) = (hidden.below_share?, self.edges.low_hz());
        let fact = Fact::Rumble { below_dbfs, below_share, low_edge_hz };
        (re_audible_db >= RUMBLE_DB).then(|| Finding::new(Severity::Note, fact))
    }

    fn dc(&self) -> Option<Finding> {
        let dc_dbfs = self.reading.hidden.dc_dbfs.finite().filter(|&db| db >= DC_DBFS)?;
        Some(Finding::new(Severity::Note, Fact::Dc { dc_dbfs }))
    }

    fn lift(&self) -> Option<(f64, f64)> {
        let room = &self.reading.room;
        Some((room.lift_db.finite()?, room.lift_allowed_db.finite()?))
    }
}

/// Whether overs are what is heard, and not hidden content's.
fn is_audible(overs: &Finding) -> bool {
    matches!(overs.fact, Fact::Overs { audible_true_peak_dbtp, .. }
        if audible_true_peak_dbtp >= AUDIBLE_OVER_DBTP)
}

/// Positive where B comes later.
fn signed_delay_ms(copy: &LateCopy) -> f64 {
    match copy.later {
        Half::A => -copy.delay_ms,
        Half::B => copy.delay_ms,
    }
}

fn or_nan(level: Level) -> f64 {
    level.db().unwrap_or(f64::NAN)
}
