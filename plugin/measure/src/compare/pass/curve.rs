//! What becomes of a sample by its height: the mean of the export over classes of the prediction. A
//! bend in it is what a waveform is distorted by; what scatters around it is something else.

/// Classes over the whole range.
const CLASSES: usize = 160;

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

/// The curve.
#[derive(Debug, Clone, Default)]
pub(in crate::compare) struct Curve {
    pub classes: Vec<Class>,
    /// Sum of the squares of all differences.
    pub squares: f64,
}

/// Gathers it.
pub(super) struct CurveBook {
    curve: Curve,
    scale: f64,
}

impl CurveBook {
    /// For predictions up to `peak`.
    pub fn new(peak: f64) -> Self {
        let scale = if peak > 0.0 { CLASSES as f64 / (2.1 * peak) } else { 0.0 };
        Self { curve: Curve { classes: vec![Class::default(); CLASSES], squares: 0.0 }, scale }
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
    }

    pub fn finish(self) -> Curve {
        self.curve
    }
}
