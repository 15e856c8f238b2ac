//! A sinusoid through points of the doubled rate: where a local maximum tops out between them.

use std::f64::consts::PI;

use pulp::Simd;

/// Cosine of the step above which the sinusoid through three points is badly conditioned and the
/// parabola is exact to 0.001 dB.
const SLOW_COSINE: f32 = 0.97;
/// Five points that a sinusoid meets this closely, as a share of its amplitude, are one.
pub(super) const SINUSOID_SHARE: f32 = 1e-3;
/// A fit of three points two to a sample falls no further short of the waveform's maximum than this.
pub(super) const FIT_SHORTFALL: f32 = 1.15;

/// Share of a maximum that is asked of the highest sinusoid through two of its neighbours: less than all of
/// it, for what rises right behind the end of what is held, where it counts for nothing.
const PAIR_SHARE: f64 = 0.98;

/// How high a signal can top out between points of the doubled rate.
///
/// Of a maximum M at α behind one point and β before the next, in angles of the band's highest frequency,
/// they show no less than M·cos α and M·cos β (see the [module](super)). Then the sinusoid of that frequency
/// through both is no lower than M: x² + y² − 2xy·cos(α + β) ≥ M²·sin²(α + β), with equality where
/// they show no more, and rising from there with either. And the nearer of them shows no less than
/// M·cos((α + β)/2).
#[derive(Clone)]
pub(super) struct Tops {
    /// −2·cos(α + β).
    minus_twice_cosine: f32,
    /// 1/sin²(α + β), and 1/cos²((α + β)/2), each a little more.
    of_two: f32,
    of_one: f32,
}

impl Tops {
    /// For a signal that ends at `band_end`, as a share of the rate, of whose maxima the nearest point shows
    /// at least `point_share`.
    pub(super) fn new(band_end: f64, point_share: f32) -> Self {
        let angle = PI * band_end;
        Self {
            minus_twice_cosine: (-2.0 * angle.cos()) as f32,
            of_two: (PAIR_SHARE * angle.sin()).powi(-2) as f32,
            of_one: 1.0 / (point_share * point_share),
        }
    }

    /// The square that no maximum exceeds which is nearest to one of the two points in the middle of four.
    #[inline(always)]
    pub(super) fn between<S: Simd>(&self, simd: S, points: [S::f32s; 4]) -> S::f32s {
        let factor = simd.splat_f32s(self.minus_twice_cosine);
        let squares = points.map(|x| simd.mul_f32s(x, x));
        let of_two = |i: usize| {
            let across = simd.mul_add_e_f32s(factor, points[i], points[i + 1]);
            simd.mul_add_e_f32s(points[i + 1], across, squares[i])
        };
        let of_two = simd.max_f32s(simd.max_f32s(of_two(0), of_two(1)), of_two(2));
        let of_one = simd.max_f32s(squares[1], squares[2]);
        simd.min_f32s(
            simd.mul_f32s(of_two, simd.splat_f32s(self.of_two)),
            simd.mul_f32s(of_one, simd.splat_f32s(self.of_one)),
        )
    }
}

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

/// Which points, given with those of the doubled rate before and behind them, are local maxima that could
/// top `held`: those that a sinusoid fits and tops it, or that no sinusoid fits and come near it. Outer
/// points before, points before, themselves, behind, outer points behind.
///
/// The same questions as in `Interpolator::look_at`, multiplied out so that they need no division
/// and all are asked at once.
#[inline(always)]
pub(super) fn may_top<S: Simd>(simd: S, points: [S::f32s; 5], held: f32) -> S::m32s {
    let [outer_before, before, here, behind, outer_behind] = points;
    let abs = |x| simd.abs_f32s(x);
    let mul = |x, y| simd.mul_f32s(x, y);
    let held_square = held * held;
    let near_square = held_square / (FIT_SHORTFALL * FIT_SHORTFALL);
    let magnitude = abs(here);
    let is_highest = simd.and_m32s(
        simd.greater_than_or_equal_f32s(magnitude, abs(before)),
        simd.greater_than_or_equal_f32s(magnitude, abs(behind)),
    );
    // With c the cosine of the fit: 4·here²·c², 4·here²·(1 − c²), and top² times the latter.
    let sides = simd.add_f32s(before, behind);
    let sides_square = mul(sides, sides);
    let square = mul(here, here);
    let rest = simd.sub_f32s(mul(simd.splat_f32s(4.0), square), sides_square);
    let slope = simd.sub_f32s(behind, before);
    let top = mul(square, simd.add_f32s(rest, mul(slope, slope)));
    let outer_sum = mul(here, simd.add_f32s(outer_before, outer_behind));
    let sum_misfit =
        simd.add_f32s(simd.sub_f32s(outer_sum, sides_square), simd.add_f32s(square, square));
    let outer_rise = mul(here, simd.sub_f32s(outer_behind, outer_before));
    let rise_misfit = simd.sub_f32s(outer_rise, mul(sides, slope));
    let near = mul(simd.splat_f32s(SINUSOID_SHARE), square);
    let misses = simd.or_m32s(
        simd.greater_than_f32s(simd.max_f32s(abs(sum_misfit), abs(rise_misfit)), near),
        simd.less_than_f32s(mul(sides, here), simd.splat_f32s(0.0)),
    );
    let above = |square: f32| simd.greater_than_f32s(top, mul(simd.splat_f32s(square), rest));
    let tops = simd.or_m32s(above(held_square), simd.and_m32s(above(near_square), misses));
    simd.and_m32s(is_highest, tops)
}
