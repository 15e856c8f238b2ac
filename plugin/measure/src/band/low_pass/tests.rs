//! The low-pass against its convolution, sample by sample.

use proptest::prelude::*;

use super::*;
use crate::scalar::energy::double;
use crate::scalar::signals::blocks;
use crate::scalar::{ROUNDING, UNDERFLOW, filter, peak, tries};

/// Rate and upper edge, in Hz: filters of one part and of several.
const PLANS: [(f64, f64); 3] = [(48_000.0, 20_000.0), (44_100.0, 20_000.0), (96_000.0, 5_000.0)];
const LONGEST: usize = 4096;
/// Pairs that take turns.
const PAIRS: usize = 3;

fn plan(arch: Arch, rate_hz: f64, upper_edge_hz: f64) -> Arc<LowPassPlan> {
    let plan = LowPassPlan::new(rate_hz, upper_edge_hz, PAIRS, LONGEST).expect("there is an edge");
    Arc::new(LowPassPlan { arch, ..plan })
}

/// The taps as the formula has them.
fn taps(rate_hz: f64, upper_edge_hz: f64) -> Vec<f64> {
    let stop_hz = stop_edge_hz(rate_hz, upper_edge_hz).unwrap();
    let half = fir::half_length(ATTENUATION_DB, (stop_hz - upper_edge_hz) / rate_hz);
    let half = half.next_multiple_of(BATCH_FRAMES);
    fir::low_pass((upper_edge_hz + stop_hz) / 2.0 / rate_hz, half, ATTENUATION_DB)
}

/// What leaves for a pair with silence behind it, long enough for its last frame to have left.
fn filtered(
    low_pass: &mut LowPass,
    signal: &[PairBatch],
    scratch: &mut LowPassScratch,
) -> [Vec<f32>; 2] {
    let silence = low_pass.plan.delay_frames() / BATCH_FRAMES + 8;
    let [mut a, mut b] = [Vec::new(), Vec::new()];
    for batch in signal.iter().chain(std::iter::repeat_n(&PairBatch::SILENCE, silence)) {
        let nothing = [f32::NAN; BATCH_FRAMES];
        let mut output = PairBatch { a: nothing, b: nothing };
        low_pass.process(batch, &mut output, scratch);
        a.extend(output.a);
        b.extend(output.b);
    }
    [a, b]
}

/// Two channels of anything, and of the second as much as `of_b` makes of both.
fn pairs(signal: &[[f32; 2 * BATCH_FRAMES]], of_b: impl Fn(f32, f32) -> f32) -> Vec<PairBatch> {
    let pair = |both: &[f32; 2 * BATCH_FRAMES]| PairBatch {
        a: std::array::from_fn(|i| both[i]),
        b: std::array::from_fn(|i| of_b(both[i], both[BATCH_FRAMES + i])),
    };
    signal.iter().map(pair).collect()
}

fn bits(output: &[f32]) -> Vec<u32> {
    output.iter().map(|sample| sample.to_bits()).collect()
}

proptest! {
    #![proptest_config(tries(12))]

    #[test]
    fn what_leaves_is_the_convolution_late_by_the_plans_delay(
        (rate_hz, edge_hz) in prop::sample::select(&PLANS[..]),
        signal in blocks::<{ 2 * BATCH_FRAMES }>(1..=40),
        pair in 0..PAIRS,
    ) {
        let plan = plan(Arch::new(), rate_hz, edge_hz);
        let mut scratch = plan.scratch();
        let mut low_pass = LowPass::new(plan.clone(), pair, 0);
        let signal = pairs(&signal, |_, b| b);
        let found = filtered(&mut low_pass, &signal, &mut scratch);
        let inputs: [Vec<f64>; 2] = [
            signal.iter().flat_map(|batch| double(&batch.a)).collect(),
            signal.iter().flat_map(|batch| double(&batch.b)).collect(),
        ];
        let length = found[0].len() - plan.delay_frames() + plan.lag;
        let expected = inputs.each_ref().map(|input| {
            let input = filter::late_by(input, 0, length);
            let convolved = filter::filtered(&input, &taps(rate_hz, edge_hz));
            filter::late_by(&convolved, plan.delay_frames() - plan.lag, found[0].len())
        });
        // Forth, product and back: the error of a transform grows with the logarithm of its length, is
        // spread over its outputs, those of both channels, and signals at full scale throughout are the
        // worst of them.
        let levels = f64::from(plan.length.ilog2());
        let parts = plan.response.len() as f64;
        let largest = inputs.iter().map(|input| peak::largest(input)).fold(0.0, f64::max);
        let apart = 2.0 * levels * parts * ROUNDING * largest
            + (plan.length * plan.response.len()) as f64 * UNDERFLOW;
        for (found, expected) in found.iter().zip(&expected) {
            for (n, (found, expected)) in double(found).iter().zip(expected).enumerate() {
                prop_assert!((found - expected).abs() <= apart, "{found} at {n}, not {expected}");
            }
        }
    }

    /// Beside a channel that much louder, what rounding carries over from it would be as loud.
    #[test]
    fn a_quiet_channel_is_filtered_beside_a_loud_one_as_by_itself(
        (rate_hz, edge_hz) in prop::sample::select(&PLANS[..2]),
        signal in blocks::<{ 2 * BATCH_FRAMES }>(1..=40),
        db in -190f32..=190.0,
    ) {
        let plan = plan(Arch::new(), rate_hz, edge_hz);
        let mut scratch = plan.scratch();
        let gain = 10f32.powf(db / 20.0);
        let [both, alone] = [1.0, 0.0].map(|share| {
            let mut signal = pairs(&signal, |_, b| b * gain);
            signal.iter_mut().for_each(|batch| batch.a = batch.a.map(|a| a * share));
            let mut low_pass = LowPass::new(plan.clone(), 0, 0);
            let [_, b] = filtered(&mut low_pass, &signal, &mut scratch);
            double(&b)
        });
        let levels = f64::from(plan.length.ilog2());
        // A loud moment may lie where a transform ends and the quiet one's does not.
        let apart = 256.0 * 2.0 * levels * ROUNDING * peak::largest(&alone)
            + plan.length as f64 * UNDERFLOW;
        for (both, alone) in both.iter().zip(&alone) {
            prop_assert!((both - alone).abs() <= apart, "{both}, not {alone}");
        }
    }

    #[test]
    fn channels_that_are_equal_or_opposite_or_silent_stay_so_to_the_last_bit(
        (rate_hz, edge_hz) in prop::sample::select(&PLANS[..]),
        signal in blocks::<{ 2 * BATCH_FRAMES }>(1..=40),
        before in blocks::<{ 2 * BATCH_FRAMES }>(1..=10),
        pair in 0..PAIRS,
    ) {
        let plan = plan(Arch::new(), rate_hz, edge_hz);
        let mut scratch = plan.scratch();
        for factor in [0.0, 1.0, -1.0] {
            let mut low_pass = LowPass::new(plan.clone(), pair, 0);
            // Not after something else, but when no filter reaches that any more.
            filtered(&mut low_pass, &pairs(&before, |_, b| b), &mut scratch);
            let silence = vec![PairBatch::SILENCE; plan.memory_frames() / BATCH_FRAMES];
            filtered(&mut low_pass, &silence, &mut scratch);
            let signal = pairs(&signal, |a, _| factor * a);
            let [a, b] = filtered(&mut low_pass, &signal, &mut scratch);
            for (a, b) in a.iter().zip(&b) {
                prop_assert_eq!(factor * a, *b);
            }
            let swapped: Vec<_> = signal.iter().map(|&PairBatch { a, b }| PairBatch { a: b, b: a }).collect();
            let mut low_pass = LowPass::new(plan.clone(), pair, 0);
            let [a, b] = filtered(&mut low_pass, &swapped, &mut scratch);
            for (a, b) in a.iter().zip(&b) {
                prop_assert_eq!(*a, factor * b);
            }
        }
    }

    #[test]
    fn nothing_is_left_after_a_reset_nor_in_what_pairs_share_and_every_processor_gives_the_same(
        (rate_hz, edge_hz) in prop::sample::select(&PLANS[..]),
        signal in blocks::<{ 2 * BATCH_FRAMES }>(1..=40),
        before in blocks::<{ 2 * BATCH_FRAMES }>(1..=70),
        pair in 0..PAIRS,
    ) {
        let narrowest = plan(Arch::Scalar, rate_hz, edge_hz);
        let [signal, before] = [signal, before].map(|signal| pairs(&signal, |_, b| b));
        let mut fresh = LowPass::new(narrowest.clone(), pair, 0);
        let fresh = filtered(&mut fresh, &signal, &mut narrowest.scratch());
        let plan = plan(Arch::new(), rate_hz, edge_hz);
        let mut scratch = plan.scratch();
        let mut used = LowPass::new(plan.clone(), pair, 0);
        filtered(&mut used, &before, &mut scratch);
        used.reset();
        let LowPassScratch { time, bins, work } = &mut scratch;
        for shared in [time, bins, work] {
            shared.fill(Complex32::new(f32::NAN, f32::NAN));
        }
        let used = filtered(&mut used, &signal, &mut scratch);
        for (fresh, used) in fresh.iter().zip(&used) {
            prop_assert_eq!(bits(fresh), bits(used));
        }
    }
}

proptest! {
    #![proptest_config(tries(256))]

    #[test]
    fn products_are_those_of_complex_numbers_on_every_processor(
        parts in prop::collection::vec(blocks::<6>(1..=1), 0..40), adds: bool
    ) {
        let complex = |at: usize| -> Vec<Complex32> {
            parts.iter().map(|part| Complex32::new(part[0][at], part[0][at + 1])).collect()
        };
        let (before, spectrum, response) = (complex(0), complex(2), complex(4));
        let run = |arch: Arch| {
            let mut sums = before.clone();
            let (spectrum, response) = (&spectrum[..], &response[..]);
            arch.dispatch(Product { sums: &mut sums, spectrum, response, adds });
            sums
        };
        let found = run(Arch::new());
        let bits = |sums: &[Complex32]| -> Vec<[u32; 2]> {
            sums.iter().map(|sum| [sum.re.to_bits(), sum.im.to_bits()]).collect()
        };
        prop_assert_eq!(bits(&found), bits(&run(Arch::Scalar)));
        for (i, found) in found.iter().enumerate() {
            let [before, x, y] = [&before, &spectrum, &response].map(|of| {
                [f64::from(of[i].re), f64::from(of[i].im)]
            });
            let before = if adds { before } else { [0.0; 2] };
            let real = before[0] + x[0] * y[0] - x[1] * y[1];
            let imaginary = before[1] + x[0] * y[1] + x[1] * y[0];
            // A product, their sum, and the sum with what there was; all are shorter than three.
            let size = before[0].hypot(before[1]) + x[0].hypot(x[1]) * y[0].hypot(y[1]);
            let apart = 4.0 * ROUNDING * size + 4.0 * UNDERFLOW;
            prop_assert!((f64::from(found.re) - real).abs() <= apart, "{found}, not {real}");
            prop_assert!((f64::from(found.im) - imaginary).abs() <= apart, "{found}, not {imaginary}i");
        }
    }
}
