//! A recording measured in parts reads what it reads in one go.
//!
//! The reference is the meter itself, over the whole recording. Sums differ by the order in which
//! they were added: 10⁻⁹ dB is far above that rounding, and far below what any fault at a seam would
//! make. Peaks and samples of the audible band are in single precision. Interpolated true peaks are
//! worked out so, and which of two ways of rounding is taken depends on what was held before: a few
//! units in the last place, 2·10⁻⁶ dB. A unit in the last place of one sample moves the energy of a
//! step, summed in single precision, by 10⁻⁷ of it: 10⁻⁷ dB in a window of 100 ms. Decorrelation times
//! come from transforms in single precision.

use ledgerline_measure::detector::{Detector, MeterKind};
use ledgerline_measure::{
    ChannelRole, Edges, HistoryRow, Meter, Settings, Spectrum, TruePeakFilter, View, YourMeter,
};
use serde_json::{Map, Value};

const SUM_TOLERANCE: f64 = 1e-9;
const WINDOW_TOLERANCE_DB: f64 = 1e-7;
const PEAK_TOLERANCE_DB: f64 = 2e-6;
const TIME_TOLERANCE_MS: f64 = 1e-4;
/// Least length of a part, in seconds: shorter than any that the command makes.
const LEAST_S: f64 = 2.5;
const BLOCK_FRAMES: usize = 1000;

struct Case {
    name: &'static str,
    rate_hz: f64,
    roles: Vec<ChannelRole>,
    settings: Settings,
    seconds: f64,
    parts: usize,
    /// The user's own meter.
    kind: MeterKind,
}

impl Case {
    fn stereo(name: &'static str, rate_hz: f64, seconds: f64, parts: usize) -> Self {
        let roles = vec![ChannelRole::Left, ChannelRole::Right];
        let kind = MeterKind { detector: Detector::Needle, audible: true };
        Self { name, rate_hz, roles, settings: Settings::default(), seconds, parts, kind }
    }

    fn meter(&self) -> Meter {
        let mut meter = Meter::for_channels(self.rate_hz, &self.roles, self.settings)
            .expect("a bus that can be measured");
        meter.set_ceiling_db(self.view().ceiling_db);
        meter.set_your_meter(Some(self.kind));
        meter.keep_decorrelation();
        meter
    }

    fn frames(&self) -> usize {
        (self.seconds * self.rate_hz) as usize + 77
    }

    /// A low ceiling, so that the limiter works throughout.
    fn view(&self) -> View {
        let your_meter = Some(YourMeter { kind: self.kind, offset_db: 18.0 });
        View { ceiling_db: -6.0, your_meter, ..View::default() }
    }

    fn starts(&self) -> Vec<u64> {
        let least = (LEAST_S * self.rate_hz) as u64;
        self.meter().part_starts(self.frames() as u64, self.parts, least)
    }
}

struct Outcome {
    reading: Value,
    spectrum: Spectrum,
    history: Vec<HistoryRow>,
}

fn outcome(case: &Case, mut meter: Meter) -> Outcome {
    meter.finish();
    let reading =
        serde_json::to_value(meter.reading(&case.view())).expect("a reading can be written");
    Outcome { reading, spectrum: meter.spectrum(), history: meter.take_history() }
}

/// Feeds frames from `first` on until there are no more or the meter has enough.
fn feed(meter: &mut Meter, channels: &[Vec<f32>], first: usize) {
    let total = channels[0].len();
    let mut from = first;
    while from < total && !meter.has_ended() {
        let to = (from + BLOCK_FRAMES).min(total);
        let block: Vec<&[f32]> = channels.iter().map(|channel| &channel[from..to]).collect();
        meter.process(&block, &[]);
        from = to;
    }
}

fn in_one_go(case: &Case, channels: &[Vec<f32>]) -> Outcome {
    let mut meter = case.meter();
    meter.keep_history();
    feed(&mut meter, channels, 0);
    outcome(case, meter)
}

fn in_parts(case: &Case, channels: &[Vec<f32>]) -> Outcome {
    let starts = case.starts();
    let mut joined: Option<Meter> = None;
    for (index, &start) in starts.iter().enumerate() {
        let end = starts.get(index + 1).copied().unwrap_or(u64::MAX);
        let mut meter = case.meter();
        meter.draw_at_the_end();
        meter.keep_history();
        if index % 2 == 0 {
            let first = meter.begin_part(start..end);
            feed(&mut meter, channels, first as usize);
        } else {
            // Its end is not known until it comes.
            let mut first = meter.begin_part(start..u64::MAX) as usize;
            if end != u64::MAX {
                let known: Vec<Vec<f32>> =
                    channels.iter().map(|channel| channel[..end as usize - 7].to_vec()).collect();
                feed(&mut meter, &known, first);
                first = end as usize - 7;
                meter.end_part(end);
            }
            feed(&mut meter, channels, first);
        }
        assert_eq!(meter.has_ended(), end != u64::MAX, "part {index} of {}", case.name);
        match &mut joined {
            Some(earlier) => earlier.append(meter),
            None => joined = Some(meter),
        }
    }
    outcome(case, joined.expect("a part at least"))
}

/// The largest differences of numbers in two records: peaks, readings over windows, decorrelation times,
/// all else.
#[derive(Default)]
struct Differences {
    times: f64,
    peaks: f64,
    windows: f64,
    others: f64,
}

impl Differences {
    fn compare(&mut self, place: &str, one: &Value, other: &Value) {
        match (one, other) {
            (Value::Object(one), Value::Object(other)) => self.compare_maps(place, one, other),
            (Value::Array(one), Value::Array(other)) => {
                assert_eq!(one.len(), other.len(), "{place}");
                for (index, (one, other)) in one.iter().zip(other).enumerate() {
                    self.compare(&format!("{place}.{index}"), one, other);
                }
            }
            (Value::Number(x), Value::Number(y)) if x.is_f64() => {
                let [x, y] = [x, y].map(|number| number.as_f64().expect("a number"));
                self.note(place, x, y);
            }
            _ => assert_eq!(one, other, "{place}"),
        }
    }

    fn compare_maps(&mut self, place: &str, one: &Map<String, Value>, other: &Map<String, Value>) {
        assert!(one.keys().eq(other.keys()), "{place}");
        for (key, value) in one {
            self.compare(&format!("{place}.{key}"), value, &other[key]);
        }
    }

    fn note(&mut self, place: &str, x: f64, y: f64) {
        let off = (x - y).abs();
        // What follows from a peak is as exact as it.
        let of_peaks =
            ["peak_db", "crest", "room_db", "withheld", "lift_allowed", "findings", "your_meter"];
        let has = |names: &[&str]| names.iter().any(|name| place.contains(name));
        let (largest, tolerance) = if has(&of_peaks) {
            (&mut self.peaks, PEAK_TOLERANCE_DB)
        } else if has(&["windows", ": row"]) {
            (&mut self.windows, WINDOW_TOLERANCE_DB)
        } else if has(&["decorrelation_ms"]) {
            (&mut self.times, TIME_TOLERANCE_MS)
        } else {
            (&mut self.others, SUM_TOLERANCE)
        };
        assert!(off <= tolerance, "{place}: {x} in one go, {y} in parts");
        *largest = largest.max(off);
    }
}

fn check(case: &Case, channels: &[Vec<f32>]) {
    let (one, parts) = (in_one_go(case, channels), in_parts(case, channels));
    let mut differences = Differences::default();
    differences.compare(case.name, &one.reading, &parts.reading);
    assert_eq!(one.history.len(), parts.history.len(), "{}", case.name);
    for (row, (one, parts)) in one.history.iter().zip(&parts.history).enumerate() {
        let [one, parts] =
            [one, parts].map(|row| serde_json::to_value(row).expect("a row can be written"));
        differences.compare(&format!("{}: row {row}", case.name), &one, &parts);
    }
    let drawn = |spectrum: &Spectrum| [spectrum.now_dbfs, spectrum.mean_dbfs].concat();
    for (one, parts) in drawn(&one.spectrum).into_iter().zip(drawn(&parts.spectrum)) {
        // Points are in single precision: at −200 dB the last place is 1.5·10⁻⁵ dB.
        assert!(one == parts || (one - parts).abs() <= 5e-5, "{}: {one}, {parts}", case.name);
    }
    println!(
        "{}: {} parts, largest difference {:e}, of windows {:e} dB, of peaks {:e} dB",
        case.name,
        case.starts().len(),
        differences.others,
        differences.windows,
        differences.peaks
    );
}

/// White noise from −1 to 1.
fn noise(seed: u32) -> impl FnMut() -> f32 {
    let mut state = seed.wrapping_mul(0x9e37_79b9) | 1;
    move || {
        state ^= state << 13;
        state ^= state >> 17;
        state ^= state << 5;
        (f64::from(state) / f64::from(u32::MAX) * 2.0 - 1.0) as f32
    }
}

/// Noise whose level changes, hidden tones on either side of the audible band, and DC.
fn programme(case: &Case) -> Vec<Vec<f32>> {
    let channel = |index: usize| {
        let mut noise = noise(index as u32 + 1);
        let tone = |hz: f64, frame: usize| {
            (frame as f64 * hz / case.rate_hz * std::f64::consts::TAU + index as f64).sin() as f32
        };
        let sample = |frame: usize| {
            let slow = tone(0.23, frame) * 0.4 + 0.5;
            let high = 0.02 * tone(0.47 * case.rate_hz, frame);
            noise() * slow * slow * 0.6
                + 0.3 * tone(440.0, frame) * slow
                + 0.05 * tone(7.5, frame)
                + high
                + 0.01 * (index as f32 + 1.0)
        };
        (0..case.frames()).map(sample).collect()
    };
    (0..case.roles.len()).map(channel).collect()
}

/// The frames around each seam.
fn around_seams(case: &Case, before: usize, behind: usize) -> Vec<std::ops::Range<usize>> {
    case.starts()[1..].iter().map(|&seam| seam as usize - before..seam as usize + behind).collect()
}

#[test]
fn at_every_rate_and_layout_and_with_every_setting() {
    use ChannelRole::{Center, Left, LowFrequency, Right, Surround};
    use Detector::{Momentary, Needle, Programme1, Programme2, Rms, SamplePeak, TruePeak};
    let edges = Edges::nearest;
    let with = |settings: fn(&mut Settings), case: Case| {
        let mut case = case;
        settings(&mut case.settings);
        case
    };
    let cases = [
        Case::stereo("44.1 kHz", 44_100.0, 16.3, 5),
        Case::stereo("48 kHz", 48_000.0, 9.1, 2),
        Case::stereo("96 kHz", 96_000.0, 10.0, 3),
        Case::stereo("11.025 kHz", 11_025.0, 20.0, 2),
        Case { roles: vec![Left], ..Case::stereo("mono", 48_000.0, 8.0, 2) },
        Case {
            roles: vec![Left, Right, Center, LowFrequency, Surround, Surround],
            ..Case::stereo("5.1", 48_000.0, 13.0, 3)
        },
        with(
            |settings| settings.true_peak = TruePeakFilter::Bs1770,
            Case::stereo("printed filter", 48_000.0, 9.0, 2),
        ),
        with(
            |settings| settings.edges = Edges::nearest(5.0, 20_000.0),
            Case::stereo("lower edge 5 Hz", 48_000.0, 24.0, 4),
        ),
        Case {
            settings: Settings { edges: edges(20.0, 22_000.0), ..Settings::default() },
            ..Case::stereo("nothing above the upper edge", 44_100.0, 9.0, 2)
        },
        Case::stereo("programme meters remember", 16_000.0, 66.0, 3),
        Case::stereo("and longer", 16_000.0, 66.0, 3),
    ];
    let kinds = [Rms, Momentary, Needle, TruePeak, SamplePeak, Rms, TruePeak, Needle, Momentary];
    let kinds = kinds.into_iter().chain([Programme1, Programme2]);
    for (index, (case, detector)) in cases.into_iter().zip(kinds).enumerate() {
        let case = Case { kind: MeterKind { detector, audible: index % 2 == 0 }, ..case };
        assert!(case.starts().len() > 1, "{}", case.name);
        check(&case, &programme(&case));
    }
}

#[test]
fn with_a_run_of_overs_across_each_seam_and_one_right_before_and_behind() {
    let case = Case::stereo("overs", 48_000.0, 14.0, 4);
    let mut channels = programme(&case);
    for (index, range) in around_seams(&case, 10, 10).into_iter().enumerate() {
        let range = match index {
            0 => range,
            1 => range.start..range.start + 10,
            _ => range.start + 10..range.end,
        };
        channels[0][range].fill(1.2);
    }
    check(&case, &channels);
}

#[test]
fn with_the_highest_true_peak_at_the_seam() {
    for offset in [-40, -25, -24, -12, -1, 0, 1, 12, 25] {
        let case = Case::stereo("true peak", 44_100.0, 8.0, 2);
        let mut channels = programme(&case);
        let seam = case.starts()[1] as i64;
        // A quarter of the rate, sampled an eighth of a period off its tops: the waveform goes
        // 3 dB above the samples.
        let frame = (seam + offset) as usize;
        for (index, sample) in channels[0][frame - 30..frame + 30].iter_mut().enumerate() {
            let phase = (index as f64 - 29.5) * std::f64::consts::FRAC_PI_2;
            *sample = (0.98 * phase.cos()) as f32;
        }
        check(&case, &channels);
    }
}

#[test]
fn with_silence_on_one_side_of_the_seam_or_all_along() {
    let case = Case::stereo("silence behind", 48_000.0, 10.0, 2);
    let seam = case.starts()[1] as usize;
    let mut channels = programme(&case);
    channels.iter_mut().for_each(|channel| channel[seam..].fill(0.0));
    check(&case, &channels);
    let mut channels = programme(&case);
    channels.iter_mut().for_each(|channel| channel[..seam].fill(0.0));
    check(&Case { name: "silence before", ..case }, &channels);
    let case = Case::stereo("silence", 48_000.0, 10.0, 2);
    check(&case, &vec![vec![0.0; case.frames()]; 2]);
}

#[test]
fn with_samples_that_are_no_level_about_each_seam() {
    let case = Case::stereo("no levels", 48_000.0, 14.0, 4);
    let mut channels = programme(&case);
    for range in around_seams(&case, 3, 2) {
        channels[1][range].fill(f32::NAN);
    }
    // Within what the later part is given beforehand, and within what the earlier one looks ahead.
    for range in around_seams(&case, 20_000, 700) {
        channels[0][range.start] = f32::INFINITY;
        channels[0][range.end] = f32::NAN;
    }
    check(&case, &channels);
}

#[test]
fn with_a_limiter_that_is_still_releasing_at_the_seam() {
    let case = Case::stereo("release", 48_000.0, 10.0, 2);
    let mut channels = vec![vec![0.01; case.frames()]; 2];
    for range in around_seams(&case, 2_000, 0) {
        channels[0][range.start..range.start + 1_500].fill(0.99);
    }
    let seam = case.starts()[1] as usize;
    channels[1][seam + 300..seam + 400].fill(0.7);
    check(&case, &channels);
}

#[test]
fn a_meter_goes_on_measuring_behind_the_join() {
    let case = Case::stereo("going on", 48_000.0, 9.0, 2);
    let channels = programme(&case);
    let starts = case.starts();
    let middle = channels[0].len() - 100_000;
    let until = |end: usize| -> Vec<Vec<f32>> {
        channels.iter().map(|channel| channel[..end].to_vec()).collect()
    };
    let [mut earlier, mut later] = [case.meter(), case.meter()];
    let first = earlier.begin_part(0..starts[1]);
    feed(&mut earlier, &channels, first as usize);
    let first = later.begin_part(starts[1]..u64::MAX);
    feed(&mut later, &until(middle), first as usize);
    earlier.append(later);
    feed(&mut earlier, &channels, middle);
    let mut differences = Differences::default();
    let one = in_one_go(&case, &channels).reading;
    differences.compare("going on", &one, &outcome(&case, earlier).reading);
}

#[test]
fn a_short_recording_or_one_whose_hops_meet_no_step_stays_whole() {
    let meter = Case::stereo("short", 48_000.0, 1.0, 4).meter();
    assert_eq!(meter.part_starts(48_000, 4, 0), [0]);
    assert_eq!(meter.part_starts(0, 4, 0), [0]);
    assert_eq!(meter.part_starts(48_000_000, 1, 0), [0]);
    let odd = Case::stereo("odd", 44_100.5, 1.0, 4).meter();
    assert_eq!(odd.part_starts(48_000_000, 4, 0), [0]);
}
