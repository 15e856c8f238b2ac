//! What lies below the lower edge, against the three filters and the two changes of rate one after the
//! other; and what these let through against what the module promises.

use proptest::prelude::*;

use super::*;
use crate::scalar::energy::double;
use crate::scalar::signals::blocks;
use crate::scalar::{ROUNDING, UNDERFLOW, filter, peak, tries};
use crate::settings::{HIGHEST_RATE_HZ, LOWER_EDGE_RANGE_HZ, LOWEST_RATE_HZ};

/// Rate and lower edge, in Hz, by factor between the rates: 1, a part of a batch, a batch, several.
const PLANS: [(f64, f64, usize); 6] = [
    (48_000.0, 2_500.0, 1),
    (8_000.0, 200.0, 2),
    (44_100.0, 1_000.0, 2),
    (48_000.0, 100.0, 16),
    (48_000.0, 40.0, 64),
    (48_000.0, 20.0, 128),
];

fn below(lower_edge: &mut LowerEdge, signal: &[Batch], behind: usize) -> Vec<f32> {
    let mut all = Vec::new();
    for batch in signal.iter().chain(std::iter::repeat_n(&[0.0; BATCH_FRAMES], behind)) {
        let mut output = [f32::NAN; BATCH_FRAMES];
        lower_edge.process(batch, &mut output);
        all.extend(output);
    }
    all
}

/// The taps of the moving sums, at unity gain, and of the narrow filter.
fn filters(rate_hz: f64, edge_hz: f64, factor: usize) -> [Vec<f64>; 2] {
    let edge = edge_hz / rate_hz;
    let sums = MovingSums::new(factor, edge);
    let short = sums.taps().iter().map(|tap| tap / factor as f64).collect();
    let narrow = narrow_taps(REACH_PERIODS / (factor as f64 * edge));
    let passed = PASSED_SHARE * edge;
    [short, evened_out(&narrow, passed * factor as f64, sums.gain(passed).powi(2))]
}

/// What a signal holds below the edge, as late as the three filters make it.
fn formula(signal: &[f64], [short, narrow]: &[Vec<f64>; 2], factor: usize) -> Vec<f64> {
    let smoothed = filter::filtered(signal, short);
    let low_rate: Vec<f64> = smoothed.iter().skip(factor - 1).step_by(factor).copied().collect();
    let low_rate = filter::filtered(&low_rate, narrow);
    let mut spread = vec![0.0; signal.len()];
    let places = spread.iter_mut().skip(factor - 1).step_by(factor);
    places.zip(low_rate).for_each(|(place, sample)| *place = sample * factor as f64);
    filter::filtered(&spread, short)
}

/// The gain of a filter that is the same forwards and backwards, at a frequency in cycles a sample.
fn gain(taps: &[f64], frequency: f64) -> f64 {
    let middle = (taps.len() - 1) as f64 / 2.0;
    let cosine = |(n, tap): (usize, &f64)| tap * (TAU * frequency * (n as f64 - middle)).cos();
    taps.iter().enumerate().map(cosine).sum()
}

proptest! {
    #![proptest_config(tries(12))]

    #[test]
    fn what_is_found_below_is_what_three_filters_leave(
        (rate_hz, edge_hz, factor) in prop::sample::select(&PLANS[..]),
        signal in blocks::<BATCH_FRAMES>(1..=30),
    ) {
        for arch in [Arch::new(), Arch::Scalar] {
            let plan = Arc::new(LowerEdgePlan { arch, ..LowerEdgePlan::new(rate_hz, edge_hz) });
            prop_assert_eq!(plan.factor, factor);
            let behind = 2 * plan.delay_frames / BATCH_FRAMES;
            let found = below(&mut LowerEdge::new(plan.clone()), &signal, behind);
            let input = filter::late_by(&double(signal.as_flattened()), 0, found.len());
            let filters = filters(rate_hz, edge_hz, factor);
            let late = plan.delay_frames - plan.reach_frames;
            let expected = filter::late_by(&formula(&input, &filters, factor), late, found.len());
            // Three sums in single precision, none of which passes on more than its largest output.
            let apart = 64.0 * ROUNDING * peak::largest(&input) + 1e4 * UNDERFLOW;
            for (n, (found, expected)) in double(&found).iter().zip(&expected).enumerate() {
                prop_assert!((found - expected).abs() <= apart, "{found} at {n}, not {expected}");
            }
        }
    }

    #[test]
    fn nothing_is_left_after_a_reset(
        (rate_hz, edge_hz, _) in prop::sample::select(&PLANS[..]),
        signal in blocks::<BATCH_FRAMES>(1..=30),
        before in blocks::<BATCH_FRAMES>(1..=30),
    ) {
        let plan = Arc::new(LowerEdgePlan::new(rate_hz, edge_hz));
        let mut fresh = LowerEdge::new(plan.clone());
        let mut used = LowerEdge::new(plan);
        below(&mut used, &before, 0);
        used.reset();
        let bits = |lower_edge: &mut LowerEdge| {
            below(lower_edge, &signal, 40).into_iter().map(f32::to_bits).collect::<Vec<_>>()
        };
        prop_assert_eq!(bits(&mut fresh), bits(&mut used));
    }

    #[test]
    fn a_filter_that_starts_later_goes_on_where_a_longer_signal_would_be(
        (rate_hz, edge_hz, _) in prop::sample::select(&PLANS[..]),
        signal in blocks::<BATCH_FRAMES>(1..=20),
        silent in 0usize..=5,
    ) {
        let plan = Arc::new(LowerEdgePlan::new(rate_hz, edge_hz));
        let longer: Vec<Batch> =
            std::iter::repeat_n([0.0; BATCH_FRAMES], silent).chain(signal.iter().copied()).collect();
        let longer = below(&mut LowerEdge::new(plan.clone()), &longer, 40);
        let mut later = LowerEdge::new(plan);
        later.start_at((silent * BATCH_FRAMES) as u64);
        let later = below(&mut later, &signal, 40);
        prop_assert_eq!(&later[..], &longer[silent * BATCH_FRAMES..]);
    }
}

proptest! {
    #![proptest_config(tries(64))]

    #[test]
    fn the_filters_keep_what_is_promised(
        rate_octaves in LOWEST_RATE_HZ.log2()..=HIGHEST_RATE_HZ.log2(),
        edge_octaves in LOWER_EDGE_RANGE_HZ.0.log2()..=LOWER_EDGE_RANGE_HZ.1.log2(),
    ) {
        let (rate_hz, edge_hz) = (rate_octaves.exp2(), edge_octaves.exp2());
        let factor = LowerEdgePlan::new(rate_hz, edge_hz).factor;
        let edge = edge_hz / rate_hz;
        let [short, narrow] = filters(rate_hz, edge_hz, factor);
        let overall = |frequency: f64| {
            gain(&short, frequency).powi(2) * gain(&narrow, frequency * factor as f64)
        };
        for share in (0..=20).map(|step| f64::from(step) / 20.0) {
            let passed = overall(0.6 * share * edge);
            prop_assert!((passed - 1.0).abs() < 0.001, "{passed} at 0.6 · {share}");
            for at in [1.0 + share, 2.0 + 6.0 * share, 0.5 / edge * share.max(2.0 * edge)] {
                let left = overall(at * edge);
                prop_assert!(left.abs() < 0.0019, "{left} at {at} edges");
            }
            for multiple in [1, 2, 3, factor / 2].into_iter().filter(|m| *m <= factor / 2) {
                let frequency = multiple as f64 / factor as f64 + (2.0 * share - 1.0) * edge;
                let folded = gain(&short, frequency);
                prop_assert!(folded.abs() < 1e-5, "{folded} around {multiple}");
            }
        }
    }

    #[test]
    fn dc_stays_dc(
        (rate_hz, edge_hz, _) in prop::sample::select(&PLANS[..]),
        level in -1f32..=1.0,
    ) {
        let plan = Arc::new(LowerEdgePlan::new(rate_hz, edge_hz));
        let batches = 2 * plan.delay_frames / BATCH_FRAMES + 4;
        let found = below(&mut LowerEdge::new(plan), &vec![[level; BATCH_FRAMES]; batches], 0);
        for found in found.last_chunk::<{ 2 * BATCH_FRAMES }>().expect("there are four batches") {
            prop_assert!((found - level).abs() <= 16.0 * f32::EPSILON * level.abs(), "{found}");
        }
    }
}
