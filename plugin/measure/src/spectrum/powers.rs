//! What a transform of a pair of channels holds in each bin, added to what earlier ones held.
//!
//! For z = a + ib, the transforms of a and b are A = (Z(f) + Z*(−f))/2 and B = (Z(f) − Z*(−f))/2i:
//! |Z(f)|² + |Z(−f)|² = 2(|A|² + |B|²).

use std::ops::Range;

use pulp::{Arch, NullaryFnOnce};
use rustfft::num_complex::Complex32;

/// Powers by bin.
pub(crate) struct BinPowers {
    pub(crate) latest: Vec<f32>,
    /// Added up over the transforms.
    pub(crate) sum: Vec<f64>,
}

/// What the halves hold by bin: their powers, and A·B*, in one unit, added up over the transforms.
pub(super) struct HalvesBins {
    pub(super) aa: Vec<f64>,
    pub(super) bb: Vec<f64>,
    pub(super) real: Vec<f64>,
    pub(super) imaginary: Vec<f64>,
}

/// What is left of earlier transforms, as shares: 0 writes over what there was.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Kept {
    pub(crate) latest: f32,
    pub(crate) sum: f64,
}

impl BinPowers {
    pub(crate) fn new(bins: usize) -> Self {
        Self { latest: vec![0.0; bins], sum: vec![0.0; bins] }
    }

    /// Adds what was before, of which `faded` is left in the latest.
    pub(crate) fn append_to(&mut self, earlier: &Self, faded: f32) {
        for (later, earlier) in self.latest.iter_mut().zip(&earlier.latest) {
            *later += faded * earlier;
        }
        add(&mut self.sum, &earlier.sum);
    }
}

impl HalvesBins {
    pub(super) fn new(bins: usize) -> Self {
        let [aa, bb, real, imaginary] = [(); 4].map(|()| vec![0.0; bins]);
        Self { aa, bb, real, imaginary }
    }

    /// Adds what was before.
    pub(super) fn append_to(&mut self, earlier: &Self) {
        add(&mut self.aa, &earlier.aa);
        add(&mut self.bb, &earlier.bb);
        add(&mut self.real, &earlier.real);
        add(&mut self.imaginary, &earlier.imaginary);
    }
}

fn add(to: &mut [f64], values: &[f64]) {
    to.iter_mut().zip(values).for_each(|(to, value)| *to += value);
}

/// Puts frames under the window.
pub(crate) struct Windowed<'a> {
    pub(crate) frames: &'a mut [Complex32],
    pub(crate) window: &'a [f32],
}

impl NullaryFnOnce for Windowed<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        for (frame, w) in self.frames.iter_mut().zip(self.window) {
            *frame = Complex32::new(frame.re * w, frame.im * w);
        }
    }
}

/// Some bins of the transform of a pair, ready to be added.
pub(crate) struct Transformed<'a> {
    positive: &'a [Complex32],
    /// Of the same bins, the last first.
    negative: &'a [Complex32],
    bins: Range<usize>,
    scale: f32,
    kept: Kept,
}

impl<'a> Transformed<'a> {
    /// Bins of a whole transform; 0 Hz, its own mirror, is left out.
    pub(crate) fn new(
        transform: &'a [Complex32],
        bins: Range<usize>,
        scale: f32,
        kept: Kept,
    ) -> Self {
        let bins = bins.start.max(1)..bins.end;
        Self {
            positive: &transform[bins.clone()],
            negative: &transform[transform.len() - bins.end + 1..=transform.len() - bins.start],
            bins,
            scale,
            kept,
        }
    }

    /// Adds the powers, to what is latest with a share of `fresh`.
    pub(crate) fn add_powers(&self, arch: Arch, powers: &mut BinPowers, fresh: f32) {
        let latest = &mut powers.latest[self.bins.clone()];
        let sum = &mut powers.sum[self.bins.clone()];
        arch.dispatch(AddPowers { of: self, latest, sum, fresh });
    }

    /// Adds what the halves hold.
    pub(super) fn add_halves(&self, arch: Arch, halves: &mut HalvesBins) {
        let HalvesBins { aa, bb, real, imaginary } = halves;
        let [aa, bb, real, imaginary] =
            [aa, bb, real, imaginary].map(|bins| &mut bins[self.bins.clone()]);
        arch.dispatch(AddHalves { of: self, aa, bb, real, imaginary });
    }
}

struct AddPowers<'a> {
    of: &'a Transformed<'a>,
    latest: &'a mut [f32],
    sum: &'a mut [f64],
    fresh: f32,
}

impl NullaryFnOnce for AddPowers<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let Self { of: &Transformed { positive, negative, scale, kept, .. }, latest, sum, fresh } =
            self;
        let count = positive.len();
        let (negative, latest, sum) = (&negative[..count], &mut latest[..count], &mut sum[..count]);
        for index in 0..count {
            let (p, n) = (positive[index], negative[count - 1 - index]);
            let power = (p.re * p.re + p.im * p.im + (n.re * n.re + n.im * n.im)) * scale;
            latest[index] = kept.latest * latest[index] + fresh * power;
            sum[index] = kept.sum * sum[index] + f64::from(power);
        }
    }
}

struct AddHalves<'a> {
    of: &'a Transformed<'a>,
    aa: &'a mut [f64],
    bb: &'a mut [f64],
    real: &'a mut [f64],
    imaginary: &'a mut [f64],
}

impl NullaryFnOnce for AddHalves<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let &Transformed { positive, negative, scale, kept: Kept { sum: kept, .. }, .. } = self.of;
        let count = positive.len();
        let negative = &negative[..count];
        let (aa, bb) = (&mut self.aa[..count], &mut self.bb[..count]);
        let (real, imaginary) = (&mut self.real[..count], &mut self.imaginary[..count]);
        for index in 0..count {
            let (p, n) = (positive[index], negative[count - 1 - index]);
            let [p_power, n_power] = [p, n].map(|z| (z.re * z.re + z.im * z.im) * scale);
            // 4AA* = |Z(f)|² + |Z(−f)|² + 2 Re Z(f)Z(−f), and likewise.
            let product_real = (p.re * n.re - p.im * n.im) * scale;
            let product_imaginary = (p.re * n.im + p.im * n.re) * scale;
            let mean = (p_power + n_power) * 0.5;
            aa[index] = kept * aa[index] + f64::from(mean + product_real);
            bb[index] = kept * bb[index] + f64::from(mean - product_real);
            real[index] = kept * real[index] + f64::from(product_imaginary);
            imaginary[index] = kept * imaginary[index] + f64::from((p_power - n_power) * 0.5);
        }
    }
}

#[cfg(test)]
mod tests;
