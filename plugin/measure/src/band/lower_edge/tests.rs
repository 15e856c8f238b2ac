//! What lies below the lower edge, against the three filters and the two changes of rate one after the
//! other.

use proptest::prelude::*;

use super::*;
use crate::scalar::energy::double;
use crate::scalar::signals::blocks;
use crate::scalar::{ROUNDING, UNDERFLOW, filter, peak, tries};

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
