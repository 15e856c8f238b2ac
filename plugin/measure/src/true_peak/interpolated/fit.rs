//! A sinusoid through points of the doubled rate: where a local maximum tops out between them.

/// Cosine of the step above which the sinusoid through three points is badly conditioned and the
/// parabola is exact to 0.001 dB.
const SLOW_COSINE: f32 = 0.97;
/// Five points that a sinusoid meets this closely, as a share of its amplitude, are one.
pub(super) const SINUSOID_SHARE: f32 = 1e-3;
/// A fit of three points two to a sample falls no further short of the waveform's maximum than this.
pub(super) const FIT_SHORTFALL: f32 = 1.15;

/// A sinusoid through three evenly spaced points, or a parabola where they lie close together.
pub(super) struct Fit {
    /// Magnitude of its maximum.
    pub(super) top: f32,
    /// Cosine of the angle from point to point.
    pub(super) cosine: f32,
}

impl Fit {
    /// For y(t) = A·cos(θt + φ): y(−1) + y(1) = 2·y(0)·cos θ, and
    /// A² = y(0)² + ((y(1) − y(−1)) / (2·sin θ))².
    #[inline(always)]
    pub(super) fn through(before: f32, here: f32, behind: f32) -> Self {
        let slope = (behind - before) / 2.0;
        let cosine = (before + behind) / (2.0 * here);
        let top = if (0.0..SLOW_COSINE).contains(&cosine) {
            (here * here + slope * slope / (1.0 - cosine * cosine)).sqrt()
        } else {
            let bend = before - 2.0 * here + behind;
            if bend == 0.0 { here.abs() } else { (here - slope * slope / (2.0 * bend)).abs() }
        };
        Self { top, cosine }
    }
}

/// Whether any of some points, given with those of the doubled rate before and behind them, is a local
/// maximum from `least` up that could top `held`: one that a sinusoid fits and tops it, or that no sinusoid
/// fits and comes near it. Outer points before, points before, themselves, behind, outer points behind.
///
/// The same questions as in `Interpolator::look_at`, multiplied out so that they need no division
/// and all are asked at once.
#[inline(always)]
pub(super) fn may_top<const N: usize>(points: [&[f32; N]; 5], held: f32, least: f32) -> bool {
    let [outers_before, befores, heres, behinds, outers_behind] = points;
    let held_square = held * held;
    let near_square = held_square / (FIT_SHORTFALL * FIT_SHORTFALL);
    let mut any = false;
    for i in 0..N {
        let (before, here, behind) = (befores[i], heres[i], behinds[i]);
        let magnitude = here.abs();
        let is_highest =
            magnitude >= least && magnitude >= before.abs() && magnitude >= behind.abs();
        // With c the cosine of the fit: 4·here²·c², 4·here²·(1 − c²), and top² times the latter.
        let sides = before + behind;
        let square = here * here;
        let rest = 4.0 * square - sides * sides;
        let slope = behind - before;
        let top = square * (rest + slope * slope);
        let sum_misfit =
            here * (outers_before[i] + outers_behind[i]) - sides * sides + 2.0 * square;
        let rise_misfit = here * (outers_behind[i] - outers_before[i]) - sides * slope;
        let near = SINUSOID_SHARE * square;
        let is_sinusoid =
            sum_misfit.abs() <= near && rise_misfit.abs() <= near && sides * here >= 0.0;
        let tops = top > held_square * rest;
        let comes_near = top > near_square * rest;
        any |= is_highest & (tops | (comes_near & !is_sinusoid));
    }
    any
}
