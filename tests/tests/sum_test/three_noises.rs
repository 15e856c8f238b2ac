//! Which meter is it, from three numbers of a test with noises alone? Meters are simulated on other
//! noises than those that the expectations come from, for as long and from where somebody happens to
//! read them. The table stands in the docs; the test fails when it is stale.

use std::fmt::Write as _;
use std::sync::LazyLock;

use ledgerline_measure::Edges;
use ledgerline_measure::band::BandFilter;
use ledgerline_measure::detector::{Bank, MeterKind, Shown};
use ledgerline_measure::sum_test::{NoiseKind, Played, ShownReading, identify_played};
use ledgerline_tests::signals::{noise, tone};

use crate::page;

const RATE_HZ: u32 = 48_000;
/// Of every model in every row of the table.
const RUNS: u64 = 400;
/// Stretches of 2 s that are played of each signal, and how many of them at most a peak is held for.
const STRETCHES: usize = 80;
const HELD: u64 = 10;

/// What all detectors show of a stretch of noise: by band, the highest and the settled.
type Stretch = [[Shown; 2]; 2];

/// One kind of noise: alone, two of them, one with a late copy.
struct Pool {
    alone: Vec<Stretch>,
    independent: Vec<Stretch>,
    delayed: Vec<Stretch>,
}

static POOLS: LazyLock<Vec<Pool>> = LazyLock::new(|| {
    std::thread::scope(|scope| {
        let pools = NoiseKind::ALL.map(|kind| scope.spawn(move || pool(kind)));
        pools.into_iter().map(|pool| pool.join().expect("a pool")).collect()
    })
});

fn pool(kind: NoiseKind) -> Pool {
    let late = RATE_HZ as usize / 10;
    let frames = 2 * RATE_HZ as usize * STRETCHES;
    let play = |seed: u64| match kind {
        NoiseKind::Uniform => noise::white(seed, 0.25, late + frames),
        NoiseKind::Gaussian => noise::white_gaussian(seed, 0.05, late + frames),
        NoiseKind::Pink => noise::pink(seed, 0.05, f64::from(RATE_HZ), late + frames),
    };
    let [first, second, third] = [7_001, 7_002, 7_003].map(play);
    Pool {
        alone: stretches(&first),
        independent: stretches(&tone::added(&second, &third)),
        delayed: stretches(&tone::added(&second[late..], &second[..frames])),
    }
}

fn stretches(signal: &[f32]) -> Vec<Stretch> {
    let rate_hz = f64::from(RATE_HZ);
    let mut filter = BandFilter::new(rate_hz, Edges::default());
    let (mut audible, mut above) = (vec![0.0; signal.len()], vec![0.0; signal.len()]);
    filter.process(signal, &mut audible, &mut above);
    let mut banks = [24_000.0, 20_500.0].map(|highest_hz| Bank::new(rate_hz, highest_hz));
    let length = 2 * RATE_HZ as usize;
    // The filter starts from silence, which is no part of the noise.
    (1..STRETCHES)
        .map(|index| {
            [0, 1].map(|band| {
                let signal = if band == 0 { signal } else { &audible };
                banks[band].reset();
                banks[band].take(&signal[index * length..(index + 1) * length]);
                [banks[band].highest(), banks[band].settled()]
            })
        })
        .collect()
}

/// What a meter shows of a stretch, in dB.
fn level(stretch: &Stretch, model: MeterKind) -> f64 {
    let [highest, settled] = stretch[model.band_index()];
    let shown = if model.detector.is_peak() { highest } else { settled };
    shown[model.detector as usize].finite().expect("a level")
}

/// What it shows to somebody who reads it at some moment: a peak that it has held for some time.
fn read_at(stretches: &[Stretch], model: MeterKind, chance: u64) -> f64 {
    let start = (chance % stretches.len() as u64) as usize;
    let held = if model.detector.is_peak() { 1 + (chance >> 32) % HELD } else { 1 };
    let heard = stretches.iter().cycle().skip(start).take(held as usize);
    heard.map(|stretch| level(stretch, model)).fold(f64::NEG_INFINITY, f64::max)
}

/// What was played, and which steps were read.
#[derive(Clone, Copy)]
struct Case {
    words: &'static str,
    played: fn(NoiseKind) -> Played,
    steps: [usize; 3],
    resolution_db: f64,
}

const OWN: fn(NoiseKind) -> Played = |_| Played::Own(None);
const KNOWN: fn(NoiseKind) -> Played = |kind| Played::Own(Some(kind));
const LOOP: fn(NoiseKind) -> Played = Played::Loop;

const CASES: [Case; 6] = [
    Case { words: "own, kind unknown", played: OWN, steps: [1, 3, 5], resolution_db: 1.0 },
    Case { words: "own, kind unknown", played: OWN, steps: [1, 3, 5], resolution_db: 0.1 },
    Case { words: "own, kind known", played: KNOWN, steps: [1, 3, 5], resolution_db: 1.0 },
    Case { words: "own, kind known", played: KNOWN, steps: [1, 3, 5], resolution_db: 0.1 },
    Case { words: "loop", played: LOOP, steps: [3, 5, 7], resolution_db: 1.0 },
    Case { words: "loop", played: LOOP, steps: [3, 5, 7], resolution_db: 0.1 },
];

/// Three readings of a meter: aligned anyhow, an error of half a step of the scale before rounding.
fn readings(case: &Case, kind: NoiseKind, model: MeterKind, run: u64) -> [ShownReading; 3] {
    let pool = &POOLS[kind as usize];
    let seed = run * 1_000 + model.detector as u64 * 10 + model.band_index() as u64;
    let offset_db = 12.0 * noise::uniform(seed, 99);
    let step_db = case.resolution_db;
    case.steps.map(|step| {
        let pick =
            |stretches: &[Stretch]| read_at(stretches, model, noise::hash(seed, 200 + step as u64));
        let level_db = match step {
            1 => pick(&pool.alone),
            3 => pick(&pool.alone) + 20.0 * 2f64.log10(),
            5 => pick(&pool.independent),
            _ => pick(&pool.delayed),
        };
        let exact = level_db + offset_db + step_db / 2.0 * noise::uniform(seed, step as u64);
        ShownReading { step, shown_db: (exact / step_db).round() * step_db }
    })
}

/// The lowest and the highest that a meter shows in a step, whenever it is read.
fn range_db(kind: NoiseKind, model: MeterKind, step: usize) -> [f64; 2] {
    let pool = &POOLS[kind as usize];
    let (stretches, more_db) = match step {
        1 => (&pool.alone, 0.0),
        3 => (&pool.alone, 20.0 * 2f64.log10()),
        5 => (&pool.independent, 0.0),
        _ => (&pool.delayed, 0.0),
    };
    let levels = || stretches.iter().map(|stretch| level(stretch, model) + more_db);
    [levels().fold(f64::INFINITY, f64::min), levels().fold(f64::NEG_INFINITY, f64::max)]
}

/// By how much a meter cannot show these readings, in dB: with one alignment, and errors no larger
/// than a step of the scale, what meters of a kind differ by, and what noise of that kind does.
fn short_by_db(
    case: &Case,
    kinds: &[NoiseKind],
    model: MeterKind,
    readings: &[ShownReading],
) -> f64 {
    // The scale's step, and three deviations of what makes differ by.
    let most_db = case.resolution_db + 0.3;
    let short_by = kinds.iter().map(|&kind| {
        let offsets = readings.iter().map(|reading| {
            let [low, high] = range_db(kind, model, reading.step);
            [reading.shown_db - high - most_db, reading.shown_db - low + most_db]
        });
        let [mut least, mut most] = [f64::NEG_INFINITY, f64::INFINITY];
        for [low, high] in offsets {
            (least, most) = (least.max(low), most.min(high));
        }
        least - most
    });
    short_by.fold(f64::INFINITY, f64::min)
}

/// A row of the table.
struct Row {
    case: Case,
    kind: NoiseKind,
    /// Of the runs of the model that was found least often, and which that is.
    in_set: u64,
    least: MeterKind,
    /// Of the runs of the model that was taken for another one most often.
    wrong_alone: u64,
    /// Models in the set, on average.
    kinds: f64,
    /// By how much a model in a set cannot show the readings, in dB.
    short_by_db: f64,
}

static ROWS: LazyLock<Vec<Row>> = LazyLock::new(|| {
    let rows = CASES.into_iter().flat_map(|case| NoiseKind::ALL.map(|kind| row(case, kind)));
    rows.collect()
});

fn row(case: Case, kind: NoiseKind) -> Row {
    let mut row = Row {
        case,
        kind,
        in_set: RUNS,
        least: MeterKind::all().next().expect("a model"),
        wrong_alone: 0,
        kinds: 0.0,
        short_by_db: f64::NEG_INFINITY,
    };
    let mut named = 0;
    let played = (case.played)(kind);
    let kinds = if played == Played::Own(None) { NoiseKind::ALL.to_vec() } else { vec![kind] };
    for model in MeterKind::all() {
        let (mut in_set, mut wrong_alone) = (0, 0);
        for run in 0..RUNS {
            let shown = readings(&case, kind, model, run);
            let found = identify_played(RATE_HZ, played, &shown, case.resolution_db);
            // Readings may look like those of a meter that was never cleared.
            let possible = found.map_or_else(|_| Vec::new(), |found| found.possible);
            in_set += u64::from(possible.contains(&model));
            wrong_alone += u64::from(matches!(possible[..], [only] if only != model));
            named += possible.len();
            for other in possible {
                row.short_by_db = row.short_by_db.max(short_by_db(&case, &kinds, other, &shown));
            }
        }
        if in_set < row.in_set {
            (row.in_set, row.least) = (in_set, model);
        }
        row.wrong_alone = row.wrong_alone.max(wrong_alone);
    }
    row.kinds = named as f64 / (RUNS as f64 * MeterKind::all().count() as f64);
    row
}

#[test]
fn three_numbers_leave_a_set_that_holds_the_true_meter_and_none_that_cannot_show_them() {
    for row in &*ROWS {
        let at = format!("{}, {:?}, {} dB", row.case.words, row.kind, row.case.resolution_db);
        println!(
            "{at}: in set {} ({}), wrong {}, kinds {:.1}, short by {:.2} dB",
            row.in_set, row.least, row.wrong_alone, row.kinds, row.short_by_db
        );
    }
    for row in &*ROWS {
        let at = format!("{}, {:?}, {} dB", row.case.words, row.kind, row.case.resolution_db);
        assert!(row.in_set * 100 >= 99 * RUNS, "{at}: {} {} of {RUNS}", row.least, row.in_set);
        assert!(row.wrong_alone * 100 < RUNS, "{at}: {} of {RUNS}", row.wrong_alone);
        // Read to tenths, the noise's own scatter is the largest error, and has no bound.
        if row.case.resolution_db == 1.0 {
            assert!(row.short_by_db <= 0.0, "{at}: {}", row.short_by_db);
        }
    }
}

/// Set `LEDGERLINE_UPDATE_DOCS` to write the table anew.
#[test]
fn the_table_in_the_docs_is_this() {
    let mut table = String::from(
        "| played | noise | read to, dB | true meter in the set | another alone | kinds in the set |\n\
         |---|---|---|---|---|---|\n",
    );
    for row in &*ROWS {
        let names = row.case.steps.map(ledgerline_measure::sum_test::step_name).join(", ");
        writeln!(
            table,
            "| {}: {names} | {} | {} | {} | {} | {:.1} |",
            row.case.words,
            row.kind.word(),
            row.case.resolution_db,
            row.in_set,
            row.wrong_alone,
            row.kinds
        )
        .expect("a string");
    }
    page::hold(&[("three noises", table)]);
}
