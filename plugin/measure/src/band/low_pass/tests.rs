//! The low-pass against its convolution, sample by sample.

use proptest::prelude::*;

use super::*;
use crate::scalar::energy::double;
use crate::scalar::signals::blocks;
use crate::scalar::{ROUNDING, UNDERFLOW, filter, peak, tries};

/// Rate and upper edge, in Hz: filters of one part and of several.
const PLANS: [(f64, f64); 3] = [(48_000.0, 20_000.0), (44_100.0, 20_000.0), (96_000.0, 5_000.0)];
/// Channels that take turns.
const CHANNELS: usize = 3;

fn plan(arch: Arch, rate_hz: f64, upper_edge_hz: f64) -> Arc<LowPassPlan> {
    let plan = LowPassPlan::new(rate_hz, upper_edge_hz, CHANNELS).expect("there is an upper edge");
    Arc::new(LowPassPlan { arch, ..plan })
}

/// The taps as the formula has them.
fn taps(rate_hz: f64, upper_edge_hz: f64) -> Vec<f64> {
    let stop_hz = stop_edge_hz(rate_hz, upper_edge_hz).unwrap();
    let half = fir::half_length(ATTENUATION_DB, (stop_hz - upper_edge_hz) / rate_hz);
    let half = half.next_multiple_of(BATCH_FRAMES);
    fir::low_pass((upper_edge_hz + stop_hz) / 2.0 / rate_hz, half, ATTENUATION_DB)
}

/// What leaves for a signal with silence behind it, long enough for its last frame to have left.
fn filtered(low_pass: &mut LowPass, signal: &[Batch], scratch: &mut LowPassScratch) -> Vec<f32> {
    let silence = low_pass.plan.delay_frames() / BATCH_FRAMES + 8;
    let mut all = Vec::new();
    for batch in signal.iter().chain(std::iter::repeat_n(&[0.0; BATCH_FRAMES], silence)) {
        let mut output = [f32::NAN; BATCH_FRAMES];
        low_pass.process(batch, &mut output, scratch);
        all.extend(output);
    }
    all
}

proptest! {
    #![proptest_config(tries(12))]

    #[test]
    fn what_leaves_is_the_convolution_late_by_the_plans_delay(
        (rate_hz, edge_hz) in prop::sample::select(&PLANS[..]),
        signal in blocks::<BATCH_FRAMES>(1..=40),
        channel in 0..CHANNELS,
    ) {
        let plan = plan(Arch::new(), rate_hz, edge_hz);
        let mut scratch = plan.scratch();
        let mut low_pass = LowPass::new(plan.clone(), channel, 0);
        let found = filtered(&mut low_pass, &signal, &mut scratch);
        let input = double(signal.as_flattened());
        let length = found.len() - plan.delay_frames() + plan.lag;
        let convolved = filter::filtered(
            &filter::late_by(&input, 0, length), &taps(rate_hz, edge_hz)
        );
        let expected = filter::late_by(&convolved, plan.delay_frames() - plan.lag, found.len());
        // Forth, product and back: the error of a transform grows with the logarithm of its length, is
        // spread over its outputs, and a signal at full scale throughout is the worst of them.
        let levels = f64::from(plan.length.ilog2());
        let parts = plan.response.len() as f64;
        let apart = 2.0 * levels * parts * ROUNDING * peak::largest(&input)
            + (plan.length * plan.response.len()) as f64 * UNDERFLOW;
        for (n, (found, expected)) in double(&found).iter().zip(&expected).enumerate() {
            prop_assert!((found - expected).abs() <= apart, "{found} at {n}, not {expected}");
        }
    }

    #[test]
    fn nothing_is_left_after_a_reset_nor_in_what_channels_share_and_every_processor_gives_the_same(
        (rate_hz, edge_hz) in prop::sample::select(&PLANS[..]),
        signal in blocks::<BATCH_FRAMES>(1..=40),
        before in blocks::<BATCH_FRAMES>(1..=70),
        channel in 0..CHANNELS,
    ) {
        let narrowest = plan(Arch::Scalar, rate_hz, edge_hz);
        let mut fresh = LowPass::new(narrowest.clone(), channel, 0);
        let fresh = filtered(&mut fresh, &signal, &mut narrowest.scratch());
        let plan = plan(Arch::new(), rate_hz, edge_hz);
        let mut scratch = plan.scratch();
        let mut used = LowPass::new(plan.clone(), channel, 0);
        filtered(&mut used, &before, &mut scratch);
        used.reset();
        let LowPassScratch { time, bins, work } = &mut scratch;
        time.fill(f32::NAN);
        bins.fill(Complex32::new(f32::NAN, f32::NAN));
        work.fill(Complex32::new(f32::NAN, f32::NAN));
        let used = filtered(&mut used, &signal, &mut scratch);
        let bits = |output: Vec<f32>| output.into_iter().map(f32::to_bits).collect::<Vec<_>>();
        prop_assert_eq!(bits(fresh), bits(used));
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
