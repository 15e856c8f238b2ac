//! When there is something to say. Every threshold stands in this file.
//!
//! The thresholds are common practice, without a source: what a mix engineer would act on.

use super::finding::{Code, Finding, Findings, Severity};
use crate::level::Level;
use crate::reading::{Half, LateCopy, Reading};
use crate::settings::Edges;

/// Difference between room and true room that is worth a sentence, in dB.
const ROOM_DB: f64 = 1.0;
/// Difference in loudness or limiter drive that is, in LU or dB.
const READING_DB: f64 = 0.5;
/// Distance from the target that needs no action, in LU or dB.
const TARGET_DB: f64 = 0.5;
/// How much higher peaks may add than energy before the peak meter misleads, in dB. Music in
/// ordinary stereo stays below.
const PEAK_OVER_ENERGY_DB: f64 = 1.5;
/// Halves that correlate less than this, either way, add rather like independent ones.
const INDEPENDENT: f64 = 0.3;
/// Halves this alike are all but one signal: what differs lies 43 dB down.
const IDENTICAL: f64 = 0.9999;
/// Distance from the ceiling that is worth a sentence, in dB: what one decimal shows.
const CEILING_DB: f64 = 0.05;
/// Fewer flat tops happen by chance.
const FLAT_TOPS: u64 = 3;
/// Sum gain below which halves cancel rather than merely differ, in dB.
const CANCEL_DB: f64 = -6.0;
/// Halves further apart than this hardly act on each other, in dB.
const LEVEL_DIFFERENCE_DB: f64 = 10.0;
/// Hidden content this far below the audible band's RMS is no news, in dB.
const HIDDEN_TONE_DB: f64 = -40.0;
/// Rumble this far below the audible band's RMS is no news, in dB.
const RUMBLE_DB: f64 = -15.0;
/// DC that is news, in dBFS: a thousandth of full scale.
const DC_DBFS: f64 = -60.0;

/// All findings on a reading, most important first.
pub(crate) fn judge(reading: &Reading, edges: Edges) -> Findings {
    let mut findings = Findings::default();
    let case = Case { reading, edges };
    let all = case.all().into_iter().flatten();
    all.for_each(|finding| findings.push(finding.between(reading.halves)));
    if findings.as_slice().is_empty() {
        findings.push(case.nothing_hidden());
    }
    findings.sort();
    findings
}

/// What the rules look at.
struct Case<'a> {
    reading: &'a Reading,
    edges: Edges,
}

impl Case<'_> {
    /// More rules than a reading has places: no signal meets them all.
    fn all(&self) -> [Option<Finding>; 18] {
        [
            self.silence(),
            self.invalid_input(),
            self.overs(),
            self.halves_cancel(),
            self.room_withheld(),
            self.room_overstated(),
            self.over_ceiling(),
            self.peaks_mislead(),
            self.limiter_on_hidden(),
            self.loudness_reads_hidden(),
            self.lift_limited(),
            self.lift_free(),
            self.above_target(),
            self.halves_identical(),
            self.hidden_tone(),
            self.flat_tops(),
            self.rumble(),
            self.dc(),
        ]
    }

    fn silence(&self) -> Option<Finding> {
        let peak = self.reading.whole.bus.sample_peak_dbfs;
        (peak.finite().is_none()).then(|| Finding::new(Code::Silence, Severity::Note, &[]))
    }

    fn invalid_input(&self) -> Option<Finding> {
        let frames = self.reading.windows.invalid_frames;
        (frames > 0).then(|| {
            Finding::new(Code::InvalidInput, Severity::Fault, &[("frames", frames as f64)])
        })
    }

    fn overs(&self) -> Option<Finding> {
        let bus = &self.reading.whole.bus;
        let over_db = self.reading.whole.bus.sample_peak_dbfs.finite()?;
        let overs = bus.overs.filter(|&overs| overs > 0)?;
        let audible_peak = self.reading.audible.bus.true_peak_dbtp.finite()?;
        Some(Finding::new(
            Code::Overs,
            Severity::Fault,
            &[
                ("overs", overs as f64),
                ("sample_peak_dbfs", over_db),
                ("audible_true_peak_dbtp", audible_peak),
            ],
        ))
    }

    fn halves_cancel(&self) -> Option<Finding> {
        let halves = &self.reading.audible.halves;
        let correlation = halves.correlation?;
        let gain = halves.sum_gain_energy_db.db()?;
        let numbers = [("correlation", correlation), ("sum_gain_energy_db", gain)];
        (gain <= CANCEL_DB).then(|| Finding::new(Code::HalvesCancel, Severity::Fault, &numbers))
    }

    fn room_withheld(&self) -> Option<Finding> {
        let room = &self.reading.room;
        let withheld_db = room.withheld_db.finite().filter(|&db| db >= ROOM_DB)?;
        let hidden = &self.reading.hidden;
        let tone_hz = |is_above: bool| {
            let mut tones = hidden.tones.as_slice().iter();
            let tone = tones.find(|tone| (tone.hz > self.edges.high_hz()) == is_above);
            tone.map_or(f64::NAN, |tone| tone.hz)
        };
        Some(Finding::new(
            Code::RoomWithheld,
            Severity::Caution,
            &[
                ("withheld_db", withheld_db),
                ("room_db", room.room_db.finite()?),
                ("true_room_db", room.true_room_db.finite()?),
                ("above_share", hidden.above_share.unwrap_or(0.0)),
                ("below_share", hidden.below_share.unwrap_or(0.0)),
                ("dc_share", hidden.dc_share.unwrap_or(0.0)),
                ("low_edge_hz", self.edges.low_hz()),
                ("high_edge_hz", self.edges.high_hz()),
                ("tone_above_hz", tone_hz(true)),
                ("tone_below_hz", tone_hz(false)),
                ("lift_allowed_db", room.lift_allowed_db.finite().unwrap_or(f64::NAN)),
            ],
        ))
    }

    fn room_overstated(&self) -> Option<Finding> {
        let room = &self.reading.room;
        let withheld_db = room.withheld_db.finite().filter(|&db| db <= -ROOM_DB)?;
        let true_room_db = room.true_room_db.finite()?;
        // While there is room in plenty, where exactly it ends changes nothing.
        let severity = if true_room_db < 6.0 { Severity::Caution } else { Severity::Note };
        Some(Finding::new(
            Code::RoomOverstated,
            severity,
            &[
                ("withheld_db", withheld_db),
                ("room_db", room.room_db.finite()?),
                ("true_room_db", true_room_db),
            ],
        ))
    }

    fn over_ceiling(&self) -> Option<Finding> {
        let room = &self.reading.room;
        let true_room_db = room.true_room_db.finite().filter(|&db| db <= -CEILING_DB)?;
        Some(Finding::new(
            Code::OverCeiling,
            Severity::Caution,
            &[("true_room_db", true_room_db), ("ceiling_db", room.ceiling_db)],
        ))
    }

    fn peaks_mislead(&self) -> Option<Finding> {
        let halves = &self.reading.whole.halves;
        let correlation = halves.correlation.filter(|r| r.abs() < INDEPENDENT)?;
        let energy_db = halves.sum_gain_energy_db.finite()?;
        let peak_db = halves.sum_gain_peak_db.finite()?;
        let difference_db = halves.level_difference_db.finite()?;
        let apart =
            peak_db - energy_db >= PEAK_OVER_ENERGY_DB && difference_db.abs() < LEVEL_DIFFERENCE_DB;
        let audible = &self.reading.audible.halves;
        let copy = self.reading.late_copy.as_ref();
        apart.then(|| {
            Finding::new(
                Code::PeaksMislead,
                Severity::Caution,
                &[
                    ("correlation", correlation),
                    ("sum_gain_energy_db", energy_db),
                    ("sum_gain_peak_db", peak_db),
                    ("level_difference_db", difference_db),
                    ("audible_gain_energy_db", or_nan(audible.sum_gain_energy_db)),
                    ("audible_gain_peak_db", or_nan(audible.sum_gain_peak_db)),
                    ("copy_delay_ms", copy.map_or(f64::NAN, signed_delay_ms)),
                    ("copy_inverted", f64::from(u8::from(copy.is_some_and(|copy| copy.inverted)))),
                    ("copy_correlation", copy.and_then(|c| c.correlation).unwrap_or(f64::NAN)),
                ],
            )
        })
    }

    fn limiter_on_hidden(&self) -> Option<Finding> {
        let limiter = &self.reading.limiter;
        let hidden_db = limiter.hidden_db.finite().filter(|&db| db >= READING_DB)?;
        let whole_db = limiter.whole_db.finite()?;
        let numbers = [("hidden_db", hidden_db), ("whole_db", whole_db)];
        Some(Finding::new(Code::LimiterOnHidden, Severity::Caution, &numbers))
    }

    fn loudness_reads_hidden(&self) -> Option<Finding> {
        let whole = self.reading.whole.bus.integrated_lufs;
        let audible = self.reading.audible.bus.integrated_lufs;
        let over_lu = whole.minus(audible).finite().filter(|&lu| lu >= READING_DB)?;
        Some(Finding::new(
            Code::LoudnessReadsHidden,
            Severity::Caution,
            &[
                ("over_lu", over_lu),
                ("whole_lufs", whole.finite()?),
                ("audible_lufs", audible.finite()?),
            ],
        ))
    }

    fn lift_limited(&self) -> Option<Finding> {
        let (lift_db, allowed_db) = self.lift()?;
        let limited = lift_db >= TARGET_DB && allowed_db < lift_db - 0.05;
        let numbers = [("lift_db", lift_db), ("lift_allowed_db", allowed_db)];
        limited.then(|| Finding::new(Code::LiftLimited, Severity::Note, &numbers))
    }

    fn lift_free(&self) -> Option<Finding> {
        let (lift_db, allowed_db) = self.lift()?;
        let free = lift_db >= TARGET_DB && allowed_db >= lift_db - 0.05;
        let numbers =
            [("lift_db", lift_db), ("true_room_db", or_nan(self.reading.room.true_room_db))];
        free.then(|| Finding::new(Code::LiftFree, Severity::Note, &numbers))
    }

    fn above_target(&self) -> Option<Finding> {
        let (lift_db, _) = self.lift()?;
        (lift_db <= -TARGET_DB)
            .then(|| Finding::new(Code::AboveTarget, Severity::Note, &[("lift_db", lift_db)]))
    }

    fn halves_identical(&self) -> Option<Finding> {
        let halves = &self.reading.whole.halves;
        let correlation = halves.correlation.filter(|&r| r >= IDENTICAL)?;
        let difference_db = halves.level_difference_db.finite()?;
        let gain_db = halves.sum_gain_energy_db.finite()?;
        let sides_db = halves.null_dbfs.minus(self.reading.whole.sum.rms_dbfs).db()?;
        let numbers = [
            ("correlation", correlation),
            ("level_difference_db", difference_db),
            ("sum_gain_energy_db", gain_db),
            ("sides_db", sides_db),
        ];
        Some(Finding::new(Code::HalvesIdentical, Severity::Note, &numbers))
    }

    fn hidden_tone(&self) -> Option<Finding> {
        let tone = self.reading.hidden.tones.as_slice().first()?;
        let below_audible_db = tone.dbfs.minus(self.reading.audible.bus.rms_dbfs).finite()?;
        let numbers = [
            ("tone_hz", tone.hz),
            ("tone_dbfs", tone.dbfs.finite()?),
            ("re_audible_db", below_audible_db),
        ];
        (below_audible_db >= HIDDEN_TONE_DB)
            .then(|| Finding::new(Code::HiddenTone, Severity::Note, &numbers))
    }

    fn flat_tops(&self) -> Option<Finding> {
        let tops = self.reading.damage.flat_tops;
        let numbers = [("flat_tops", tops as f64)];
        (tops >= FLAT_TOPS).then(|| Finding::new(Code::FlatTops, Severity::Note, &numbers))
    }

    fn rumble(&self) -> Option<Finding> {
        let hidden = &self.reading.hidden;
        let below_dbfs = hidden.below_dbfs.finite()?;
        let re_audible_db = below_dbfs - self.reading.audible.bus.rms_dbfs.finite()?;
        let numbers = [
            ("below_dbfs", below_dbfs),
            ("below_share", hidden.below_share?),
            ("low_edge_hz", self.edges.low_hz()),
        ];
        (re_audible_db >= RUMBLE_DB).then(|| Finding::new(Code::Rumble, Severity::Note, &numbers))
    }

    fn dc(&self) -> Option<Finding> {
        let dc_dbfs = self.reading.hidden.dc_dbfs.finite().filter(|&db| db >= DC_DBFS)?;
        Some(Finding::new(Code::Dc, Severity::Note, &[("dc_dbfs", dc_dbfs)]))
    }

    /// What a bus without findings can be told.
    fn nothing_hidden(&self) -> Finding {
        let room = &self.reading.room;
        let numbers =
            [("true_room_db", or_nan(room.true_room_db)), ("ceiling_db", room.ceiling_db)];
        Finding::new(Code::Clean, Severity::Clear, &numbers)
    }

    fn lift(&self) -> Option<(f64, f64)> {
        let room = &self.reading.room;
        Some((room.lift_db.finite()?, room.lift_allowed_db.finite()?))
    }
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
