//! Four doubles at a time, whatever the processor's vectors hold.

use pulp::Simd;

/// A value of each of four signals.
pub(crate) type Four = [f64; 4];

/// What a processor does with four values at once.
#[derive(Clone, Copy)]
pub(crate) struct Fours<S>(S);

impl<S: Simd> Fours<S> {
    #[inline(always)]
    pub(crate) fn new(simd: S) -> Self {
        const { assert!(S::F64_LANES <= 4, "four values are made up of whole vectors") };
        Self(simd)
    }

    /// `a·b + c`, rounded once where the processor can.
    #[inline(always)]
    pub(crate) fn mul_add(self, a: Four, b: Four, mut c: Four) -> Four {
        let factors = S::as_simd_f64s(&a).0.iter().zip(S::as_simd_f64s(&b).0);
        for (c, (a, b)) in S::as_mut_simd_f64s(&mut c).0.iter_mut().zip(factors) {
            *c = self.0.mul_add_e_f64s(*a, *b, *c);
        }
        c
    }

    #[inline(always)]
    pub(crate) fn add(self, mut a: Four, b: Four) -> Four {
        for (a, b) in S::as_mut_simd_f64s(&mut a).0.iter_mut().zip(S::as_simd_f64s(&b).0) {
            *a = self.0.add_f64s(*a, *b);
        }
        a
    }

    #[inline(always)]
    pub(crate) fn sub(self, mut a: Four, b: Four) -> Four {
        for (a, b) in S::as_mut_simd_f64s(&mut a).0.iter_mut().zip(S::as_simd_f64s(&b).0) {
            *a = self.0.sub_f64s(*a, *b);
        }
        a
    }
}
