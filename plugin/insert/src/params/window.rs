//! Size and look of the editor's window, saved with the parameters.

use std::sync::{Mutex, PoisonError};

use nice_plug::params::persist::PersistentField;
use serde::{Deserialize, Serialize};

/// The smallest window in which all text can still be read, in logical points.
pub const LEAST_POINTS: (f32, f32) = (760.0, 560.0);
/// The size of a window that nobody has resized yet, in logical points.
pub const FIRST_POINTS: (f32, f32) = (1100.0, 760.0);
/// Largest window that a saved state may ask for, in logical points.
const LARGEST_POINTS: (f32, f32) = (7680.0, 4320.0);

/// How the window looked when it was last open.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Look {
    /// Width, in logical points.
    pub width_points: f32,
    /// Height, in logical points.
    pub height_points: f32,
    /// Whether the dark colours are shown.
    pub dark: bool,
}

impl Default for Look {
    fn default() -> Self {
        Self { width_points: FIRST_POINTS.0, height_points: FIRST_POINTS.1, dark: true }
    }
}

impl Look {
    /// The same look with a size that a window can have.
    fn sound(self) -> Self {
        let start = Self::default();
        let side = |points: f32, otherwise: f32, least: f32, most: f32| {
            if points.is_finite() { points.clamp(least, most) } else { otherwise }
        };
        Self {
            width_points: side(
                self.width_points,
                start.width_points,
                LEAST_POINTS.0,
                LARGEST_POINTS.0,
            ),
            height_points: side(
                self.height_points,
                start.height_points,
                LEAST_POINTS.1,
                LARGEST_POINTS.1,
            ),
            dark: self.dark,
        }
    }
}

/// The look, shared by the editor and the saved state. The audio thread has no business here.
#[derive(Debug, Default)]
pub struct Window(Mutex<Look>);

impl Window {
    /// How the window looks.
    #[must_use]
    pub fn look(&self) -> Look {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Sets how the window looks, within what a window can be.
    pub fn set_look(&self, look: Look) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = look.sound();
    }
}

impl PersistentField<'_, Look> for Window {
    fn set(&self, look: Look) {
        self.set_look(look);
    }

    fn map<F, R>(&self, f: F) -> R
    where
        F: Fn(&Look) -> R,
    {
        f(&self.look())
    }
}

impl PersistentField<'_, Look> for std::sync::Arc<Window> {
    fn set(&self, look: Look) {
        self.set_look(look);
    }

    fn map<F, R>(&self, f: F) -> R
    where
        F: Fn(&Look) -> R,
    {
        f(&self.look())
    }
}
