//! Sample peaks and overs.

use pulp::{Arch, NullaryFnOnce};

/// Vector width that the loop below is written for.
const LANES: usize = 8;

/// Largest magnitudes of a, b and a + b over a stretch; 0 if it is empty.
pub(crate) fn largest(arch: Arch, a: &[f32], b: &[f32]) -> [f32; 3] {
    arch.dispatch(Largest { a, b })
}

struct Largest<'a> {
    a: &'a [f32],
    b: &'a [f32],
}

impl NullaryFnOnce for Largest<'_> {
    type Output = [f32; 3];

    #[inline(always)]
    fn call(self) -> [f32; 3] {
        let mut lanes = [[0f32; LANES]; 3];
        let (chunks_a, rest_a) = self.a.as_chunks::<LANES>();
        let (chunks_b, rest_b) = self.b.as_chunks::<LANES>();
        for (a, b) in chunks_a.iter().zip(chunks_b) {
            for i in 0..LANES {
                raise(&mut lanes[0][i], a[i]);
                raise(&mut lanes[1][i], b[i]);
                raise(&mut lanes[2][i], a[i] + b[i]);
            }
        }
        for (&a, &b) in rest_a.iter().zip(rest_b) {
            raise(&mut lanes[0][0], a);
            raise(&mut lanes[1][0], b);
            raise(&mut lanes[2][0], a + b);
        }
        lanes.map(|lanes| lanes.into_iter().fold(0.0, f32::max))
    }
}

#[inline(always)]
fn raise(held: &mut f32, sample: f32) {
    let magnitude = sample.abs();
    // Not `f32::max`: its treatment of NaN takes three instructions, and no NaN comes here.
    *held = if magnitude > *held { magnitude } else { *held };
}

/// Raises each value of `held` to the magnitude of the sample beside it.
pub(crate) fn raise_to_magnitudes(held: &mut [f32], samples: &[f32]) {
    for (held, &sample) in held.iter_mut().zip(samples) {
        raise(held, sample);
    }
}

/// Counts runs of samples of one channel at or over full scale.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Overs {
    pub(crate) count: u64,
    inside: bool,
}

impl Overs {
    /// Goes on where `later` stands, which began where this ends, with the run that was open there.
    pub(crate) fn append(&mut self, later: Self) {
        *self = Self { count: self.count + later.count, ..later };
    }

    /// Takes a stretch without a sample at or over full scale.
    pub(crate) fn take_none(&mut self) {
        self.inside = false;
    }

    /// Takes a stretch and says at which of its frames a run begins, a bit a frame.
    pub(crate) fn take(&mut self, samples: &[f32], full_scale: f32) -> u64 {
        let mut begun = 0;
        for (index, sample) in samples.iter().enumerate() {
            let over = sample.abs() >= full_scale;
            if over && !self.inside {
                self.count += 1;
                begun |= 1 << index;
            }
            self.inside = over;
        }
        begun
    }
}

#[cfg(test)]
mod tests;
