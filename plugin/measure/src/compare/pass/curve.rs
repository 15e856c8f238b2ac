//! What becomes of a sample by its height: the mean of the export over classes of the prediction. A
//! bend in it is what a waveform is distorted by; what scatters around it is something else. Small
//! samples beside high ones tell a bend, which leaves them alone, from a gain that goes down.

/// Classes over the whole range.
const CLASSES: usize = 160;
/// What is beside a peak, in seconds, and how high it may be at most, as a share of the peak.
const BESIDE_S: f64 = 0.005;
const BESIDE_SHARE: f64 = 0.25;

/// One class.
#[derive(Debug, Clone, Copy, Default)]
pub(in crate::compare) struct Class {
    pub count: f64,
    /// Sums over it: prediction, and export less prediction.
    pub predicted: f64,
    pub difference: f64,
    /// Of the squares of those differences.
    pub squares: f64,
}

/// Small samples beside peaks of one height: products with the prediction, summed.
#[derive(Debug, Clone, Copy, Default)]
pub(in crate::compare) struct Beside {
    /// Of the prediction with itself, and with the export.
    pub zz: f64,
    pub zy: f64,
}

/// The curve.
#[derive(Debug, Clone, Default)]
pub(in crate::compare) struct Curve {
    pub classes: Vec<Class>,
    /// By the height of the peak, in as many classes over magnitudes up to `highest`.
    pub beside: Vec<Beside>,
    pub highest: f64,
    /// Sum of the squares of all differences.
    pub squares: f64,
}

/// Gathers it.
pub(super) struct CurveBook {
    curve: Curve,
    scale: f64,
    beside: usize,
}

impl CurveBook {
    /// For predictions up to `peak`.
    pub fn new(peak: f64, rate_hz: f64) -> Self {
        let highest = 1.05 * peak;
        let scale = if peak > 0.0 { CLASSES as f64 / (2.0 * highest) } else { 0.0 };
        let curve = Curve {
            classes: vec![Class::default(); CLASSES],
            beside: vec![Beside::default(); CLASSES],
            highest,
            squares: 0.0,
        };
        Self { curve, scale, beside: ((BESIDE_S * rate_hz) as usize).max(1) }
    }

    pub fn take(&mut self, heard: &[Vec<f64>], filtered: &[Vec<f64>]) {
        for (y, f) in heard.iter().flatten().zip(filtered.iter().flatten()) {
            let place = f * self.scale + CLASSES as f64 / 2.0;
            let class = &mut self.curve.classes[(place.max(0.0) as usize).min(CLASSES - 1)];
            let difference = y - f;
            class.count += 1.0;
            class.predicted += f;
            class.difference += difference;
            class.squares += difference * difference;
            self.curve.squares += difference * difference;
        }
        for (y, f) in heard.iter().zip(filtered) {
            for (y, f) in y.chunks_exact(self.beside).zip(f.chunks_exact(self.beside)) {
                self.take_beside(y, f);
            }
        }
    }

    fn take_beside(&mut self, heard: &[f64], filtered: &[f64]) {
        let peak = filtered.iter().fold(0f64, |held, f| held.max(f.abs()));
        let place = ((2.0 * self.scale * peak) as usize).min(CLASSES - 1);
        let beside = &mut self.curve.beside[place];
        for (y, f) in heard.iter().zip(filtered) {
            if f.abs() < BESIDE_SHARE * peak {
                beside.zz += f * f;
                beside.zy += f * y;
            }
        }
    }

    pub fn finish(self) -> Curve {
        self.curve
    }
}
