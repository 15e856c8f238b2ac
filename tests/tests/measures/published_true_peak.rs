//! True peak against EBU Tech 3341, against closed forms, and on steady sines at every rate; and the
//! filter that ITU-R BS.1770 prints against what that filter does by calculation.

use ledgerline_measure::{Settings, TruePeakFilter, View};
use ledgerline_tests::formulas::{RATES_HZ, fourier};
use ledgerline_tests::readings::{Checks, read, read_on, read_with, stereo_meter};
use ledgerline_tests::signals::tone::{Sine, scaled};
use ledgerline_tests::signals::{Stereo, frames, noise, true_peak};

const TECH_3341: &str = "EBU Tech 3341 (2023), Table 1, +0.2/−0.4 dB";
const RATE_HZ: f64 = 48_000.0;
const PRINTED: Settings = Settings {
    edges: ledgerline_measure::Edges::USUAL,
    halves: ledgerline_measure::Halves::LeftRight,
    true_peak: TruePeakFilter::Bs1770,
};

/// What each case reads in the table, and the exact maximum of the sine in cases 15 to 19.
const SINE_CASES: [(usize, f64, f64); 5] = [
    (15, -6.0, -6.0206),
    (16, -6.0, -6.0206),
    (17, -6.0, -6.0206),
    (18, -6.0, -6.0206),
    (19, 3.0, 2.9844),
];

#[test]
fn cases_15_to_19_read_the_table_and_the_sine_s_own_amplitude() {
    for (case, table_dbtp, exact_dbtp) in SINE_CASES {
        let reading = read(&true_peak::sine_case(case, RATE_HZ));
        let mut checks = Checks::of(format!("case {case}"), TECH_3341);
        let bus = &reading.whole.bus;
        checks.level("true_peak_dbtp, table", bus.true_peak_dbtp, table_dbtp - 0.1, 0.3);
        checks.level("true_peak_dbtp, exact", bus.true_peak_dbtp, exact_dbtp, 0.02);
    }
}

#[test]
fn cases_20_to_23_read_0_dbtp() {
    for case in 20..=23 {
        for settings in [Settings::default(), PRINTED] {
            let signal = true_peak::burst_case(case, RATE_HZ);
            let reading = read_with(&signal, settings, &View::default());
            let name = format!("case {case}, {:?}", settings.true_peak);
            let mut checks = Checks::of(name, TECH_3341);
            checks.level("true_peak_dbtp", reading.whole.bus.true_peak_dbtp, -0.1, 0.3);
        }
    }
}

#[test]
fn a_steady_sine_reads_its_amplitude_at_any_frequency_phase_and_rate() {
    const AMPLITUDE_DBFS: f64 = -3.0;
    for rate_hz in RATES_HZ {
        let mut meter = stereo_meter(rate_hz, Settings::default());
        for hz in sine_frequencies_hz(rate_hz) {
            let mut checks = Checks::of(
                format!("sine of {hz} Hz, {AMPLITUDE_DBFS} dBFS, at {rate_hz} Hz"),
                "its own amplitude, ±0.02 dB",
            );
            // A period and a half between the fades holds a maximum, whatever the phase.
            let length_s = 0.03 + (1.5 / hz).max(0.02);
            for step in 0..8 {
                let phase_deg = 360.0 / 16.0 * f64::from(2 * step);
                let amplitude = 10f64.powf(AMPLITUDE_DBFS / 20.0);
                let play = |phase_deg| {
                    let sine = Sine { hz, amplitude, phase_deg };
                    sine.faded(rate_hz, length_s, 0.015)
                };
                let signal = Stereo::new(rate_hz, play(phase_deg), play(phase_deg + 360.0 / 16.0));
                let reading = read_on(&mut meter, &signal, &View::default());
                let (whole, audible) = (&reading.whole, &reading.audible);
                let halves = [(whole.a, audible.a), (whole.b, audible.b)];
                for (half, (whole, audible)) in halves.into_iter().enumerate() {
                    let what = format!("whole at {}°", phase_deg + 22.5 * half as f64);
                    checks.level(&what, whole.true_peak_dbtp, AMPLITUDE_DBFS, 0.02);
                    // The pass band may add its own 0.02 dB. The high-pass at the lower edge takes
                    // longer to settle than the fades of a low tone.
                    if hz >= 1000.0 {
                        let what = format!("audible at {}°", phase_deg + 22.5 * half as f64);
                        checks.level(&what, audible.true_peak_dbtp, AMPLITUDE_DBFS, 0.04);
                    }
                }
            }
        }
    }
}

/// Twenty-four frequencies from 20 Hz to 20 kHz, and those locked to the rate, where the samples
/// meet the same few phases for ever.
fn sine_frequencies_hz(rate_hz: f64) -> Vec<f64> {
    let spread = (0..24).map(|step| 20.0 * 1000f64.powf(f64::from(step) / 23.0));
    let locked = [3.0, 4.0, 5.0, 6.0, 8.0, 12.0, 2.5, 20.0 / 9.0].map(|part| rate_hz / part);
    let others = [997.0, 10_000.0, 15_000.0, 17_500.0, 18_500.0, 19_000.0, 19_500.0, 19_999.0];
    spread.chain(locked).chain(others).filter(|hz| *hz <= 20_000.0).collect()
}

#[test]
fn noise_that_ends_at_20_khz_reads_its_ideal_interpolation() {
    for rate_hz in [44_100.0, 48_000.0, 96_000.0] {
        for seed in 71..76 {
            let count = frames(rate_hz, 1.0);
            let noise = |seed| noise::white_gaussian(seed, 0.1, count);
            let wide = Stereo::new(rate_hz, noise(seed), noise(seed + 100));
            let signal = fourier::audible(&wide, 20.0, 20_000.0);
            let whole = read(&signal).whole;
            let mut checks = Checks::of(
                format!("noise up to 20 kHz, seed {seed}, at {rate_hz} Hz"),
                "Fourier interpolation of the whole signal",
            );
            for (half, levels, samples) in
                [("a", whole.a, &signal.left), ("b", whole.b, &signal.right)]
            {
                let expected = fourier::true_peak_dbtp(samples);
                checks.level(
                    &format!("{half} true_peak_dbtp"),
                    levels.true_peak_dbtp,
                    expected,
                    0.02,
                );
            }
        }
    }
}

#[test]
fn sample_peaks_of_locked_sines_fall_short_by_the_closed_form() {
    // Worst case: cos(π/(2q')), the start phase half a step off the maximum for even q.
    for (part, phase_deg, short_db) in
        [(4.0, 45.0, -3.0103), (6.0, 60.0, -1.2494), (8.0, 67.5, -0.6877), (12.0, 75.0, -0.3011)]
    {
        let sine = Sine::new(RATE_HZ / part, 0.5).at_phase(phase_deg);
        let reading = read(&Stereo::both(RATE_HZ, sine.faded(RATE_HZ, 0.5, 0.01)));
        let mut checks = Checks::of(
            format!("sine of fs/{part} at {phase_deg}°"),
            "closed form cos(π/(2q')) of the sample peak",
        );
        let bus = &reading.whole.bus;
        checks.level("sample_peak_dbfs", bus.sample_peak_dbfs, -6.0206 + short_db, 0.001);
        let gap = bus.sample_peak_dbfs.minus(bus.true_peak_dbtp);
        checks.level("sample peak re true peak", gap, short_db, 0.02);
    }
}

#[test]
fn the_printed_filter_reads_what_its_coefficients_give() {
    // Calculated from the 48 coefficients: highest output for each steady sine. Frequencies locked
    // to the rate meet one set of phases, so the figure is exact.
    for (case, expected_dbtp) in [(15, -6.22), (16, -5.98), (17, -6.31), (18, -6.03), (19, 3.03)] {
        let reading = read_with(&true_peak::sine_case(case, RATE_HZ), PRINTED, &View::default());
        let mut checks =
            Checks::of(format!("case {case}, printed filter"), "ITU-R BS.1770-5, Annex 2");
        // The figures are rounded to 0.01 dB.
        checks.level("true_peak_dbtp", reading.whole.bus.true_peak_dbtp, expected_dbtp, 0.006);
    }
    // 20·log10(0.9721679687500): no phase of the printed filter holds the samples themselves.
    let mut lone = vec![0.0; frames(RATE_HZ, 0.1)];
    lone[2000] = 1.0;
    let reading = read_with(&Stereo::both(RATE_HZ, lone), PRINTED, &View::default());
    let mut checks = Checks::of("one sample of 1.0, printed filter", "ITU-R BS.1770-5, Annex 2");
    checks.level("true_peak_dbtp", reading.whole.bus.true_peak_dbtp, -0.2452, 0.0005);
    // (4/π)·Σ cannot be reached by twelve taps; the coefficients give these.
    for (pairs, expected_dbtp) in [(1, 1.903), (2, 4.15), (3, 5.12)] {
        let signal = Stereo::both(RATE_HZ, true_peak::adding_samples(RATE_HZ, pairs));
        let reading = read_with(&signal, PRINTED, &View::default());
        let mut checks = Checks::of(
            format!("{} samples that add, printed filter", 2 * pairs),
            "ITU-R BS.1770-5, Annex 2",
        );
        checks.level("true_peak_dbtp", reading.whole.bus.true_peak_dbtp, expected_dbtp, 0.006);
    }
}

#[test]
fn what_was_held_before_hides_no_higher_true_peak() {
    // Small samples whose interpolation rises far above them, in every place after a louder tone
    // and before it: the whole reads the highest of its parts.
    let tone = Sine::new(997.0, 0.5).faded(RATE_HZ, 0.3, 0.02);
    let view = View::default();
    let mut meter = stereo_meter(RATE_HZ, Settings::default());
    let mut part = |samples: &[f32]| {
        let signal = Stereo::both(RATE_HZ, samples.to_vec());
        read_on(&mut meter, &signal, &view).whole.a.true_peak_dbtp
    };
    for pairs in [1, 2, 3, 4, 6, 8, 12] {
        for peak_sample in [0.25, 0.3, 0.35, 0.4, 0.45] {
            let burst = scaled(&true_peak::adding_samples(RATE_HZ, pairs), peak_sample);
            let highest = part(&tone).max(part(&burst));
            let expected = highest.db().unwrap_or(f64::NAN);
            let mut checks = Checks::of(
                format!("{} samples of {peak_sample} that add, beside a tone of 0.5", 2 * pairs),
                "the higher of both alone",
            );
            // Where the burst meets the steps that samples are gathered in changes nothing.
            for shift in [0, 31, 60, 63] {
                let gap = vec![0.0; shift];
                let after = part(&[tone.as_slice(), &gap, &burst].concat());
                checks.level(&format!("after, {shift} on"), after, expected, 0.005);
                let before = part(&[gap.as_slice(), &burst, &tone].concat());
                checks.level(&format!("before, {shift} on"), before, expected, 0.005);
            }
        }
    }
}

#[test]
fn true_peak_is_never_below_the_sample_peak() {
    let mut lone = vec![0.0; frames(RATE_HZ, 0.1)];
    lone[2000] = 0.5;
    let reading = read(&Stereo::both(RATE_HZ, lone));
    let mut checks = Checks::of("one sample of 0.5 in silence", "band-limited interpolation");
    checks.level("sample_peak_dbfs", reading.whole.bus.sample_peak_dbfs, -6.0206, 0.0001);
    checks.level("true_peak_dbtp", reading.whole.bus.true_peak_dbtp, -6.0206, 0.0001);
}
