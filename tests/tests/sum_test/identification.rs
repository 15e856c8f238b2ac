//! Which meter is it? Readings made from every model, rounded and disturbed, must lead back to it.
//!
//! The confusion table stands in the docs; the test fails when it is stale.

use std::fmt::Write as _;
use std::sync::LazyLock;

use ledgerline_measure::detector::{Detector, MeterKind};
use ledgerline_measure::sum_test::identification::IdentificationError;
use ledgerline_measure::sum_test::{
    BesideReading, Played, STEPS, ShownReading, expectations, identify, identify_beside,
    identify_played,
};
use ledgerline_tests::signals::noise;

use crate::page;

const RATE_HZ: u32 = 48_000;
/// As many as the page shows.
const RUNS: u64 = 200;

/// What a meter of the model shows: an alignment of its own, an error, rounded.
fn readings(model: MeterKind, run: u64, resolution_db: f64, error_db: f64) -> Vec<ShownReading> {
    let expectations = expectations(RATE_HZ).expect("a rate at which the test plays");
    let seed = run * 1_000 + model.detector as u64 * 10 + model.band_index() as u64;
    let offset_db = 12.0 * noise::uniform(seed, 99);
    STEPS
        .iter()
        .enumerate()
        .filter(|(_, step)| !step.is_null())
        .map(|(index, step)| {
            let level = expectations.level(index, model.band_index(), model.detector, -20.0);
            let error = error_db * noise::uniform(seed, index as u64);
            let exact = level.finite().expect("a level") + offset_db + error;
            ShownReading {
                step: step.number,
                shown_db: (exact / resolution_db).round() * resolution_db,
            }
        })
        .collect()
}

/// Of meters read in whole decibels, model by model.
static WHOLE: LazyLock<Vec<Count>> =
    LazyLock::new(|| MeterKind::all().map(|model| count(model, 1.0, 0.5)).collect());
/// Of meters read in tenths.
static TENTHS: LazyLock<Vec<Count>> =
    LazyLock::new(|| MeterKind::all().map(|model| count(model, 0.1, 0.05)).collect());

struct Count {
    first: u64,
    first_or_inseparable: u64,
    first_alone: u64,
    by_model: Vec<u64>,
}

fn count(model: MeterKind, resolution_db: f64, error_db: f64) -> Count {
    let models: Vec<MeterKind> = MeterKind::all().collect();
    let mut count = Count {
        first: 0,
        first_or_inseparable: 0,
        first_alone: 0,
        by_model: vec![0; models.len()],
    };
    for run in 0..RUNS {
        let found =
            identify(RATE_HZ, &readings(model, run, resolution_db, error_db), resolution_db)
                .expect("readings that can be used");
        let best = found.models[0].model();
        let together = found.inseparable.iter().any(|set| set.contains(&model));
        count.first += u64::from(best == model);
        count.first_or_inseparable += u64::from(best == model || together);
        count.first_alone += u64::from(best == model && found.inseparable.is_empty());
        let index = models.iter().position(|other| *other == best).expect("a model");
        count.by_model[index] += 1;
        let total: f64 = found.models.iter().map(|candidate| candidate.probability).sum();
        assert!((total - 1.0).abs() < 1e-9);
    }
    count
}

#[test]
fn readings_in_whole_decibels_lead_to_the_model_or_to_a_set_that_holds_it() {
    for (model, count) in MeterKind::all().zip(&*WHOLE) {
        println!("{model}: first {}, with set {}", count.first, count.first_or_inseparable);
        assert!(count.first_or_inseparable * 100 >= 95 * RUNS, "{model}");
    }
}

#[test]
fn readings_in_tenths_lead_to_the_model_alone() {
    for (model, count) in MeterKind::all().zip(&*TENTHS) {
        println!("{model}: first {}, alone {}", count.first, count.first_alone);
        assert!(count.first_alone * 100 >= 95 * RUNS, "{model}");
    }
}

#[test]
fn a_held_sample_peak_is_named_and_the_summing_cleared() {
    let model = MeterKind { detector: Detector::SamplePeak, audible: false };
    let found = identify(RATE_HZ, &readings(model, 1, 0.1, 0.0), 0.1).expect("usable");
    println!("{}", found.sentence);
    assert_eq!(found.models[0].model(), model);
    assert!(found.sentence.contains("the largest sample, held, whole band"));
    assert!(found.sentence.contains("cannot show decorrelation"));
    assert!(found.sentence.contains("say nothing against the summing"));
}

#[test]
fn few_readings_give_a_set_and_the_step_that_would_part_it() {
    let model = MeterKind { detector: Detector::Programme1, audible: false };
    let all = readings(model, 3, 1.0, 0.0);
    let few: Vec<ShownReading> =
        all.into_iter().filter(|reading| [1, 3, 5].contains(&reading.step)).collect();
    let found = identify(RATE_HZ, &few, 1.0).expect("usable");
    println!("{}", found.sentence);
    assert!(found.inseparable.iter().any(|set| set.contains(&model)));
    let further = found.further_step.expect("a step that would part them");
    assert!(further.apart_db > 1.0);
    assert!(found.sentence.contains(&format!("Read step {}", further.step)));
}

#[test]
fn a_set_too_long_to_read_is_counted_instead() {
    let model = MeterKind { detector: Detector::Needle, audible: true };
    let all = readings(model, 4, 1.0, 0.0);
    let few: Vec<ShownReading> = all.into_iter().filter(|reading| reading.step <= 3).collect();
    let found = identify(RATE_HZ, &few, 1.0).expect("usable");
    println!("{}", found.sentence);
    let kinds = found.inseparable[0].len();
    assert!(found.sentence.contains(&format!("{kinds} of 14 kinds show them")));
    assert!(found.sentence.contains("Read step "), "{}", found.sentence);
}

#[test]
fn readings_that_no_meter_gives_are_called_so() {
    let nonsense: Vec<ShownReading> = (1..=16)
        .map(|step| ShownReading { step, shown_db: if step % 2 == 0 { -40.0 } else { 0.0 } })
        .collect();
    let found = identify(RATE_HZ, &nonsense, 1.0).expect("usable");
    assert!(found.sentence.starts_with("No model explains"), "{}", found.sentence);
}

/// What a meter shows of entries in which these steps played, read to 1 dB with an error.
fn beside(model: MeterKind, run: u64, steps: &[usize]) -> Vec<BesideReading> {
    let expectations = expectations(RATE_HZ).expect("a rate at which the test plays");
    let seed = run * 1_000 + model.detector as u64 * 10 + model.band_index() as u64;
    let offset_db = 12.0 * noise::uniform(seed, 99);
    let read = |step: &usize| {
        let of = |band, detector| expectations.level(step - 1, band, detector, -20.0);
        let exact = of(model.band_index(), model.detector).finite().expect("a level") + offset_db;
        BesideReading {
            entry: *step as u64,
            levels: [0, 1].map(|band| Detector::ALL.map(|detector| of(band, detector))),
            shown_db: (exact + 0.5 * noise::uniform(seed, *step as u64)).round(),
        }
    };
    steps.iter().map(read).collect()
}

#[test]
fn readings_beside_entries_leave_a_set_that_holds_the_true_meter() {
    // Two noises, a low tone, pink noise, something inaudible, bursts: sounds of different character.
    let steps = [1, 5, 8, 9, 11, 14];
    for model in MeterKind::all() {
        let named = |count: usize| -> Vec<Vec<MeterKind>> {
            let found =
                |run| identify_beside(&beside(model, run, &steps[..count]), 1.0).expect("usable");
            (0..RUNS).map(|run| found(run).possible).collect()
        };
        for count in [2, 6] {
            let sets = named(count);
            let held = sets.iter().filter(|set| set.contains(&model)).count() as u64;
            let kinds = sets.iter().map(Vec::len).sum::<usize>() as f64 / RUNS as f64;
            println!("{model}, {count} entries: in the set {held} of {RUNS}, {kinds:.1} kinds");
            assert!(held * 100 >= 98 * RUNS, "{model}: {held} of {RUNS}");
            let most = if count == 6 { 4.0 } else { 14.0 };
            assert!(kinds <= most, "{model}, {count} entries: {kinds} kinds");
        }
    }
    let one = beside(MeterKind { detector: Detector::Rms, audible: false }, 1, &[1]);
    let refused = identify_beside(&one, 1.0).expect_err("refused");
    assert_eq!(refused, IdentificationError::TooFewEntries { readings: 1 });
}

#[test]
fn a_meter_that_was_never_cleared_is_told_from_one_that_falls() {
    let reading = |step, shown_db| ShownReading { step, shown_db };
    let own =
        |readings: &[ShownReading]| identify_played(RATE_HZ, Played::Own(None), readings, 1.0);
    // Read after the same noise on both, the noise alone cannot show as much.
    let held = [reading(3, -4.0), reading(1, -4.0), reading(5, -4.0)];
    assert_eq!(own(&held).expect_err("refused"), IdentificationError::Holds);
    // An averaging meter that holds shows the same as one of sample peaks, unless read last.
    let doubtful = own(&[reading(1, -10.0), reading(3, -4.0), reading(5, -4.0)]).expect("usable");
    assert!(doubtful.sentence.contains("holds its highest"), "{}", doubtful.sentence);
    let certain = own(&[reading(3, -4.0), reading(5, -4.0), reading(1, -10.0)]).expect("usable");
    assert!(!certain.sentence.contains("holds its highest"), "{}", certain.sentence);
    let peak = MeterKind { detector: Detector::SamplePeak, audible: false };
    let averaging = MeterKind { detector: Detector::Rms, audible: false };
    for found in [certain, doubtful] {
        assert_eq!(found.possible[0], peak);
        assert!(!found.possible.contains(&averaging), "{:?}", found.possible);
    }
    let outside = own(&[reading(16, -4.0), reading(1, -4.0), reading(5, -4.0)]);
    assert!(matches!(outside, Err(IdentificationError::NotOfNoises { step: 16, .. })));
}

#[test]
fn unusable_readings_are_refused() {
    let reading = |step, shown_db| ShownReading { step, shown_db };
    let try_it = |readings: &[ShownReading], resolution_db| {
        identify(RATE_HZ, readings, resolution_db).expect_err("refused")
    };
    let good = [reading(1, 0.0), reading(3, 6.0), reading(5, 3.0)];
    assert_eq!(try_it(&good[..2], 1.0), IdentificationError::TooFew { readings: 2 });
    assert_eq!(try_it(&[reading(0, 0.0)], 1.0), IdentificationError::Step { step: 0 });
    assert_eq!(try_it(&[reading(17, 0.0)], 1.0), IdentificationError::Step { step: 17 });
    assert_eq!(
        try_it(&[reading(1, 0.0), reading(1, 1.0)], 1.0),
        IdentificationError::Twice { step: 1 }
    );
    assert_eq!(
        try_it(&[reading(1, f64::NAN), good[1], good[2]], 1.0),
        IdentificationError::Reading { step: 1 }
    );
    assert_eq!(
        try_it(&[reading(1, 1e300), good[1], good[2]], 1.0),
        IdentificationError::Reading { step: 1 }
    );
    for resolution_db in [0.0, -1.0, 1e9, f64::NAN, f64::INFINITY] {
        assert_eq!(try_it(&good, resolution_db), IdentificationError::Resolution);
    }
    assert_eq!(
        identify(32_000, &good, 1.0).expect_err("refused"),
        IdentificationError::Rate { rate_hz: 32_000 }
    );
    // The null may be given, as −∞ too, and is left out.
    let with_null = [good[0], good[1], good[2], reading(4, f64::NEG_INFINITY)];
    assert!(identify(RATE_HZ, &with_null, 1.0).is_ok());
}

fn confusion(counts: &[Count]) -> String {
    let mut table = String::from("| true model |");
    for number in 1..=counts.len() {
        write!(table, " {number} |").expect("a string");
    }
    table.push_str(" alone | first or in the set |\n|---|");
    table.push_str(&"---|".repeat(counts.len() + 2));
    table.push('\n');
    for (index, (model, count)) in MeterKind::all().zip(counts).enumerate() {
        write!(table, "| {} {model} |", index + 1).expect("a string");
        for times in &count.by_model {
            let cell = if *times == 0 { "·".to_owned() } else { times.to_string() };
            write!(table, " {cell} |").expect("a string");
        }
        writeln!(table, " {} | {} |", count.first_alone, count.first_or_inseparable)
            .expect("a string");
    }
    table
}

/// Set `LEDGERLINE_UPDATE_DOCS` to write the tables anew.
#[test]
fn the_confusion_tables_in_the_docs_are_these() {
    page::hold(&[("confusion whole", confusion(&WHOLE)), ("confusion tenths", confusion(&TENTHS))]);
}

/// What a fourfold interpolator of 48 taps, 6 dB down at half the rate, shows of the feeds: worked out by
/// somebody else's program.
#[test]
fn a_true_peak_meter_of_another_make_is_not_excluded() {
    let kind = MeterKind { detector: Detector::TruePeak, audible: false };
    let all = [(1, -16.2), (3, -10.2), (5, -11.2), (8, -13.4), (9, -20.0), (14, -20.0)];
    for count in [3, 6] {
        let readings: Vec<ShownReading> =
            all[..count].iter().map(|&(step, shown_db)| ShownReading { step, shown_db }).collect();
        let meter = identify(48_000, &readings, 0.1).expect("readings");
        assert!(meter.possible.contains(&kind), "{count}: {}", meter.sentence);
    }
}

/// The same of what lies in the audible band: fourfold interpolators of 8 and of 16 samples, the second
/// 6 dB down at nine tenths of half the rate, of noises like the test's, worked out by somebody else's
/// program as differences from the ideal true peak.
#[test]
fn a_true_peak_meter_of_the_audible_band_may_be_of_another_make() {
    let kind = MeterKind { detector: Detector::TruePeak, audible: true };
    let exact = expectations(RATE_HZ).expect("a rate at which the test plays");
    for off_db in [[-0.42, -0.42, 0.05, -0.42, 0.43], [-0.46, -0.46, 0.04, -0.46, 0.48]] {
        for resolution_db in [0.5, 0.1] {
            let shown = |(step, off_db): (usize, f64)| {
                let level = exact.level(step - 1, 1, Detector::TruePeak, -20.0);
                let shown_db = level.finite().expect("a level") + off_db;
                let shown_db = (shown_db / resolution_db).round() * resolution_db;
                ShownReading { step, shown_db }
            };
            let readings: Vec<ShownReading> =
                [1, 3, 5, 8, 9].into_iter().zip(off_db).map(shown).collect();
            let meter = identify(RATE_HZ, &readings, resolution_db).expect("readings");
            assert!(meter.possible.contains(&kind), "{resolution_db}: {}", meter.sentence);
        }
    }
}
