//! Eight values in single precision at a time, whatever the processor's vectors hold.

use pulp::Simd;

/// Eight values side by side.
pub(crate) type Eight = [f32; 8];

/// What a processor does with eight values at once. No sum is fused with a product: of short sums that
/// saves nothing, and so every processor finds the same bits.
#[derive(Clone, Copy)]
pub(crate) struct Eights<S>(S);

impl<S: Simd> Eights<S> {
    #[inline(always)]
    pub(crate) fn new(simd: S) -> Self {
        const { assert!(S::F32_LANES <= 8, "eight values are made up of whole vectors") };
        Self(simd)
    }

    #[inline(always)]
    pub(crate) fn add(self, mut a: Eight, b: Eight) -> Eight {
        for (a, b) in S::as_mut_simd_f32s(&mut a).0.iter_mut().zip(S::as_simd_f32s(&b).0) {
            *a = self.0.add_f32s(*a, *b);
        }
        a
    }

    #[inline(always)]
    pub(crate) fn sub(self, mut a: Eight, b: Eight) -> Eight {
        for (a, b) in S::as_mut_simd_f32s(&mut a).0.iter_mut().zip(S::as_simd_f32s(&b).0) {
            *a = self.0.sub_f32s(*a, *b);
        }
        a
    }

    /// `a·b + c`.
    #[inline(always)]
    pub(crate) fn mul_add(self, a: Eight, b: Eight, mut c: Eight) -> Eight {
        let factors = S::as_simd_f32s(&a).0.iter().zip(S::as_simd_f32s(&b).0);
        for (c, (a, b)) in S::as_mut_simd_f32s(&mut c).0.iter_mut().zip(factors) {
            *c = self.0.add_f32s(self.0.mul_f32s(*a, *b), *c);
        }
        c
    }

    /// `held`, raised to the magnitudes of `values`.
    #[inline(always)]
    pub(crate) fn raise(self, mut held: Eight, values: Eight) -> Eight {
        let values = S::as_simd_f32s(&values).0;
        for (held, values) in S::as_mut_simd_f32s(&mut held).0.iter_mut().zip(values) {
            *held = self.0.max_f32s(*held, self.0.abs_f32s(*values));
        }
        held
    }
}
