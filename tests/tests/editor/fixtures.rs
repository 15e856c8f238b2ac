//! Snapshots to draw: the ferry mix, a clean one, silence, two independent noises, mono, and values
//! that no mix should have. Readings are set by hand, in agreement with each other.

use ledgerline::handover::Snapshot;
use ledgerline_measure::reading::{
    BandReading, BandWindows, HalvesReading, Hidden, Levels, Reading, Room, Tone, WindowLevels,
    Windows,
};
use ledgerline_measure::verdict::{Fact, Finding, Findings, Misleading, Severity, Taker, Withheld};
use ledgerline_measure::{Halves, Level, Spectrum, Target, TargetKind};

/// A snapshot and its name.
pub struct Fixture {
    /// Name of the picture.
    pub name: &'static str,
    /// What is drawn.
    pub snapshot: Snapshot,
}

/// All of them.
pub fn all() -> Vec<Fixture> {
    let fixture = |name, snapshot| Fixture { name, snapshot };
    vec![
        fixture("ferry", ferry()),
        fixture("clean", clean()),
        fixture("nothing", Snapshot::default()),
        fixture("silence", silence()),
        fixture("noises", independent_noises()),
        fixture("mono", mono()),
        fixture("extreme", extreme()),
    ]
}

fn db(db: f64) -> Level {
    Level::from_db(db)
}

/// Sample peak, true peak, RMS, momentary, short-term, integrated, range, overs.
fn levels(values: [f64; 7], overs: u64) -> Levels {
    let [sample_peak, true_peak, rms, momentary, short_term, integrated, range] = values;
    Levels {
        sample_peak_dbfs: db(sample_peak),
        true_peak_dbtp: db(true_peak),
        rms_dbfs: db(rms),
        crest_db: db(sample_peak).minus(db(rms)),
        momentary_lufs: db(momentary),
        short_term_lufs: db(short_term),
        integrated_lufs: db(integrated),
        lra_lu: db(range),
        overs: Some(overs),
    }
}

fn window_of(levels: &Levels, peak_change_db: f64, rms_change_db: f64) -> WindowLevels {
    WindowLevels {
        sample_peak_dbfs: levels.sample_peak_dbfs.plus(peak_change_db),
        rms_dbfs: levels.rms_dbfs.plus(rms_change_db),
        momentary_max_lufs: levels.momentary_lufs.plus(2.0),
        short_term_max_lufs: levels.short_term_lufs.plus(1.0),
    }
}

fn windows_of(band: &BandReading) -> BandWindows {
    BandWindows {
        a: window_of(&band.a, -1.4, 0.3),
        b: window_of(&band.b, -1.9, 0.2),
        sum: window_of(&band.sum, -1.1, 0.4),
        bus: window_of(&band.bus, -1.4, 0.3),
        halves: band.halves,
    }
}

fn windows(whole: &BandReading, audible: &BandReading) -> Windows {
    Windows {
        peak_window_s: 3.0,
        rms_window_s: Some(1.0),
        whole: windows_of(whole),
        audible: windows_of(audible),
        ..Windows::default()
    }
}

/// Room as the measures define it, from the readings of both bands.
fn room(
    whole: &BandReading,
    audible: &BandReading,
    ceiling_db: f64,
    target: Option<Target>,
) -> Room {
    let room_db = db(ceiling_db).minus(whole.bus.sample_peak_dbfs);
    let true_room_db = db(ceiling_db).minus(audible.bus.true_peak_dbtp);
    let lift_db =
        target.map_or(Level::NONE, |target| db(target.value).minus(audible.bus.integrated_lufs));
    let lift_allowed_db = match (lift_db.finite(), true_room_db.finite()) {
        (Some(lift), Some(room)) => db(lift.min(room)),
        _ => Level::NONE,
    };
    Room {
        ceiling_db,
        room_db,
        true_room_db,
        withheld_db: true_room_db.minus(room_db),
        target,
        lift_db,
        lift_allowed_db,
    }
}

fn reading(whole: BandReading, audible: BandReading, hidden: Hidden, rate_hz: f64) -> Reading {
    let base = Snapshot::default().reading;
    Reading {
        time_s: 192.4,
        sample_rate_hz: rate_hz,
        whole,
        audible,
        hidden,
        room: room(&whole, &audible, -1.0, Some(Target::default())),
        windows: windows(&whole, &audible),
        ..base
    }
}

fn findings(list: &[Finding]) -> Findings {
    let mut findings = Findings::default();
    list.iter().for_each(|finding| findings.push(*finding));
    findings
}

fn shares(above: f64, below: f64, dc: f64) -> Hidden {
    Hidden {
        above_share: Some(above),
        below_share: Some(below),
        dc_share: Some(dc),
        audible_share: Some(1.0 - above - below - dc),
        ..Hidden::default()
    }
}

/// A spectrum from a floor that falls by `slope_db` an octave, and tones.
fn spectrum(
    high_hz: f32,
    at_1_khz_dbfs: f32,
    slope_db: f32,
    shape: impl Fn(f32) -> f32,
    tones: &[(f32, f32)],
) -> Spectrum {
    let mut spectrum = Spectrum { high_hz, ..Spectrum::default() };
    for index in 0..spectrum.now_dbfs.len() {
        let hz = spectrum.hz(index);
        let mut level = at_1_khz_dbfs + slope_db * (hz / 1e3).log2() + shape(hz);
        for (tone_hz, dbfs) in tones {
            let distance = (hz / tone_hz).log2().abs();
            level = level.max(dbfs - 600.0 * (distance - 0.03).max(0.0));
        }
        // A little unevenness, the same in every run.
        let wobble = ((index * 7919) % 13) as f32 / 13.0 - 0.5;
        spectrum.mean_dbfs[index] = level + wobble;
        spectrum.now_dbfs[index] = level - 2.0 + 5.0 * wobble;
    }
    spectrum
}

/// The ferry mix: rumble at 12 Hz, an idle tone at 31 kHz and hiss above the audible band.
pub fn ferry() -> Snapshot {
    let whole = BandReading {
        a: levels([-0.3, 0.4, -10.1, -24.1, -25.3, -26.6, 9.1], 0),
        b: levels([-0.6, 0.1, -10.3, -24.4, -25.6, -26.9, 9.0], 0),
        sum: levels([4.9, 5.6, -5.9, -20.0, -21.3, -22.7, 9.2], 214),
        bus: levels([-0.3, 0.4, -10.2, -21.2, -22.4, -23.7, 9.1], 0),
        halves: HalvesReading {
            correlation: Some(0.34),
            sum_gain_energy_db: db(1.3),
            sum_gain_peak_db: db(2.3),
            coherent_dbfs: db(-4.2),
            power_dbfs: db(-7.2),
            null_dbfs: db(-9.0),
            level_difference_db: db(0.2),
        },
    };
    let audible = BandReading {
        a: levels([-8.2, -7.9, -29.3, -30.0, -31.0, -32.0, 13.4], 0),
        b: levels([-8.9, -8.6, -29.8, -30.5, -31.5, -32.5, 13.1], 0),
        sum: levels([-3.9, -3.6, -25.4, -26.1, -27.2, -28.2, 13.6], 0),
        bus: levels([-8.2, -7.9, -29.5, -27.2, -28.2, -29.0, 13.3], 0),
        halves: HalvesReading {
            correlation: Some(0.58),
            sum_gain_energy_db: db(2.0),
            sum_gain_peak_db: db(1.6),
            coherent_dbfs: db(-23.5),
            power_dbfs: db(-26.5),
            null_dbfs: db(-30.3),
            level_difference_db: db(0.5),
        },
    };
    let mut hidden = Hidden {
        above_dbfs: db(-9.0),
        below_dbfs: db(-20.0),
        dc_dbfs: db(-71.0),
        ..shares(0.62, 0.05, 0.0002)
    };
    hidden.tones.push(Tone { hz: 31_000.0, dbfs: db(-14.0) });
    hidden.tones.push(Tone { hz: 12.0, dbfs: db(-20.0) });
    let shape =
        |hz: f32| if hz > 18_000.0 { 58.0 - ((hz / 27_000.0).log2() * 40.0).abs() } else { 0.0 };
    let spectrum = spectrum(
        48_000.0,
        -62.0,
        -3.6,
        |hz| shape(hz).max(0.0),
        &[(31_000.0, -14.0), (12.0, -20.0)],
    );
    let mut reading = reading(whole, audible, hidden, 96_000.0);
    reading.findings = findings(&[
        Finding::new(
            Severity::Caution,
            Fact::RoomWithheld(Withheld {
                withheld_db: 7.6,
                room_db: -0.7,
                true_room_db: 6.9,
                above_share: 0.62,
                below_share: 0.05,
                dc_share: 0.0002,
                low_edge_hz: 20.0,
                high_edge_hz: 20_000.0,
                tone_above_hz: 31_000.0,
                tone_below_hz: f64::NAN,
                lift_allowed_db: 6.0,
                above: Taker { price_db: 6.9, since_s: 35.0, tone_share: 0.3 },
                below: Taker { price_db: 0.9, since_s: 35.0, tone_share: 0.9 },
            }),
        ),
        Finding::new(
            Severity::Caution,
            Fact::LoudnessReadsHidden {
                over_lu: 5.3,
                whole_lufs: -23.7,
                audible_lufs: -29.0,
                above_share: 0.62,
                below_share: 0.05,
                low_edge_hz: 20.0,
                high_edge_hz: 20_000.0,
            },
        ),
        Finding::new(
            Severity::Note,
            Fact::LiftFree { lift_db: 6.0, true_room_db: 6.9, lift_now_db: -1.4 },
        ),
        Finding::new(
            Severity::Note,
            Fact::HiddenTone { tone_hz: 31_000.0, tone_dbfs: -14.0, re_audible_db: 15.0 },
        ),
        Finding::new(
            Severity::Note,
            Fact::Rumble { below_dbfs: -20.0, below_share: 0.05, low_edge_hz: 20.0 },
        ),
    ]);
    Snapshot { reading, spectrum }
}

/// A finished programme with nothing hidden.
pub fn clean() -> Snapshot {
    let band = BandReading {
        a: levels([-3.4, -3.2, -20.9, -26.3, -26.0, -26.1, 6.2], 0),
        b: levels([-3.6, -3.3, -21.1, -26.1, -26.2, -26.3, 6.3], 0),
        sum: levels([1.9, 2.1, -15.6, -20.9, -20.8, -20.9, 6.2], 31),
        bus: levels([-3.4, -3.2, -21.0, -23.1, -22.9, -23.0, 6.2], 0),
        halves: HalvesReading {
            correlation: Some(0.71),
            sum_gain_energy_db: db(2.3),
            sum_gain_peak_db: db(2.4),
            coherent_dbfs: db(-15.0),
            power_dbfs: db(-18.0),
            null_dbfs: db(-23.4),
            level_difference_db: db(0.2),
        },
    };
    let hidden = Hidden {
        above_dbfs: db(-92.0),
        below_dbfs: db(-74.2),
        dc_dbfs: Level::SILENCE,
        ..shares(0.0, 0.000_005, 0.0)
    };
    let roll_off = |hz: f32| {
        if hz < 40.0 {
            -24.0 * (40.0 / hz).log2()
        } else if hz > 16_000.0 {
            -60.0 * (hz / 16_000.0).log2()
        } else {
            0.0
        }
    };
    let mut reading = reading(band, band, hidden, 48_000.0);
    reading.findings = findings(&[Finding::new(
        Severity::Clear,
        Fact::Clean { true_room_db: 2.2, ceiling_db: -1.0 },
    )]);
    Snapshot { reading, spectrum: spectrum(24_000.0, -48.0, -3.0, roll_off, &[]) }
}

/// Digital silence.
pub fn silence() -> Snapshot {
    let silent = Levels {
        sample_peak_dbfs: Level::SILENCE,
        true_peak_dbtp: Level::SILENCE,
        rms_dbfs: Level::SILENCE,
        momentary_lufs: Level::SILENCE,
        short_term_lufs: Level::SILENCE,
        integrated_lufs: Level::SILENCE,
        overs: Some(0),
        ..Levels::default()
    };
    let band =
        BandReading { a: silent, b: silent, sum: silent, bus: silent, ..BandReading::default() };
    let hidden = Hidden {
        above_dbfs: Level::SILENCE,
        below_dbfs: Level::SILENCE,
        dc_dbfs: Level::SILENCE,
        ..Hidden::default()
    };
    let mut reading = reading(band, band, hidden, 48_000.0);
    reading.findings =
        findings(&[Finding::new(Severity::Clear, Fact::Silence { silent_s: f64::NAN })]);
    Snapshot { reading, spectrum: Spectrum::default() }
}

/// Two independent uniform noises of one level: energy adds as independent, peak as identical.
pub fn independent_noises() -> Snapshot {
    let loudness = |rms: f64| [rms + 2.1, rms + 2.1, rms + 2.1, 0.2];
    let noise = |peak: f64, true_peak: f64, rms: f64| {
        let [m, s, i, r] = loudness(rms);
        levels([peak, true_peak, rms, m, s, i, r], 0)
    };
    let halves = |energy: f64, peak: f64, power: f64| HalvesReading {
        correlation: Some(0.001),
        sum_gain_energy_db: db(energy),
        sum_gain_peak_db: db(peak),
        coherent_dbfs: db(power + 3.0),
        power_dbfs: db(power),
        null_dbfs: db(power),
        level_difference_db: db(0.0),
    };
    let whole = BandReading {
        a: noise(-10.0, -4.8, -14.77),
        b: noise(-10.0, -4.9, -14.77),
        sum: noise(-3.99, -0.5, -11.75),
        bus: noise(-10.0, -4.8, -14.77),
        halves: halves(0.01, 3.0, -11.76),
    };
    let audible = BandReading {
        a: noise(-5.9, -5.6, -15.6),
        b: noise(-5.9, -5.6, -15.6),
        sum: noise(-1.6, -1.3, -12.6),
        bus: noise(-5.9, -5.6, -15.6),
        halves: halves(0.0, 1.3, -12.6),
    };
    let hidden = Hidden {
        above_dbfs: db(-22.6),
        below_dbfs: db(-45.6),
        dc_dbfs: db(-82.0),
        ..shares(0.166, 0.0008, 0.0)
    };
    let mut reading = reading(whole, audible, hidden, 48_000.0);
    reading.findings = findings(&[
        Finding::new(
            Severity::Caution,
            Fact::PeaksMislead(Misleading {
                correlation: 0.001,
                sum_gain_energy_db: 0.01,
                sum_gain_peak_db: 3.0,
                level_difference_db: 0.0,
                audible_gain_energy_db: 0.0,
                audible_gain_peak_db: 1.3,
                copy_delay_ms: f64::NAN,
                copy_inverted: 0.0,
                copy_correlation: f64::NAN,
            }),
        ),
        Finding::new(
            Severity::Caution,
            Fact::RoomOverstated { withheld_db: -4.4, room_db: 9.0, true_room_db: 4.6 },
        ),
    ]);
    Snapshot { reading, spectrum: spectrum(24_000.0, -40.0, 3.0, |_| 0.0, &[]) }
}

/// One channel.
pub fn mono() -> Snapshot {
    let mut snapshot = clean();
    let reading = &mut snapshot.reading;
    reading.halves = Halves::Mono;
    for band in [&mut reading.whole, &mut reading.audible] {
        let one = band.a;
        *band = BandReading { a: one, bus: one, ..BandReading::default() };
    }
    reading.windows = windows(&reading.whole.clone(), &reading.audible.clone());
    snapshot
}

/// Values that no mix should have: enormous levels, silence beside them, many overs and tones.
pub fn extreme() -> Snapshot {
    let huge = levels([600.0, 600.0, 597.0, 598.7, 598.7, 598.7, 0.0], 123_456_789);
    let tiny = levels([-312.4, -312.4, -318.1, -316.0, -316.0, -316.0, 0.0], 0);
    let cancelled = HalvesReading {
        correlation: Some(-1.0),
        sum_gain_energy_db: Level::SILENCE,
        sum_gain_peak_db: Level::SILENCE,
        coherent_dbfs: db(603.0),
        power_dbfs: db(600.0),
        null_dbfs: db(603.0),
        level_difference_db: db(-912.4),
    };
    let mut silent = tiny;
    (silent.sample_peak_dbfs, silent.rms_dbfs, silent.crest_db) =
        (Level::SILENCE, Level::SILENCE, Level::NONE);
    let whole = BandReading { a: huge, b: huge, sum: silent, bus: huge, halves: cancelled };
    let audible = BandReading { a: tiny, b: huge, sum: silent, bus: huge, halves: cancelled };
    let mut hidden = Hidden {
        above_dbfs: db(599.0),
        below_dbfs: Level::SILENCE,
        dc_dbfs: db(-600.0),
        ..shares(0.9997, 0.0, 0.0)
    };
    for index in 0..8 {
        hidden.tones.push(Tone {
            hz: 200_000.0 + 20_000.0 * f64::from(index),
            dbfs: db(-3.0 - 10.0 * f64::from(index)),
        });
    }
    let mut reading = reading(whole, audible, hidden, 768_000.0);
    reading.time_s = 360_000.0;
    reading.halves = Halves::MainSidechain;
    reading.room.target = Some(Target { kind: TargetKind::Peak, value: -60.0 });
    reading.findings = findings(&[
        Finding::new(
            Severity::Fault,
            Fact::HalvesCancel { correlation: -1.0, sum_gain_energy_db: f64::NEG_INFINITY },
        ),
        Finding::new(Severity::Fault, Fact::InvalidInput { frames: 18_446_744_073_709_551_615.0 }),
        Finding::new(
            Severity::Fault,
            Fact::Overs {
                overs: 123_456_789.0,
                sample_peak_dbfs: 600.0,
                audible_true_peak_dbtp: -312.4,
                true_room_db: 311.4,
            },
        ),
        Finding::new(
            Severity::Caution,
            Fact::OverCeiling { true_room_db: -601.0, ceiling_db: -1.0 },
        ),
        Finding::new(
            Severity::Caution,
            Fact::LimiterOnHidden { hidden_db: 600.0, whole_db: 601.0 },
        ),
        Finding::new(Severity::Note, Fact::AboveTarget { lift_db: -621.7 }),
        Finding::new(
            Severity::Note,
            Fact::HiddenTone { tone_hz: 200_000.0, tone_dbfs: -3.0, re_audible_db: 15.0 },
        ),
        Finding::new(Severity::Note, Fact::Dc { dc_dbfs: -600.0 }),
    ]);
    let tones: Vec<_> =
        (0..8).map(|i| (200_000.0 + 20_000.0 * i as f32, -3.0 - 10.0 * i as f32)).collect();
    Snapshot { reading, spectrum: spectrum(384_000.0, 20.0, 12.0, |_| 0.0, &tones) }
}
