//! Size and look of the editor's window, saved with the parameters.

use std::sync::{Mutex, PoisonError};

use nice_plug::params::persist::PersistentField;
use serde::{Deserialize, Serialize};

use crate::history::Span;

/// The smallest window, in logical points: it shows the sentence, the numbers and the peaks.
pub const LEAST_POINTS: (f32, f32) = (480.0, 160.0);
/// The size of a window that nobody has resized yet, in logical points.
pub const FIRST_POINTS: (f32, f32) = (1100.0, 760.0);
/// Largest window that a saved state may ask for, in logical points.
const LARGEST_POINTS: (f32, f32) = (7680.0, 4320.0);

/// The colours.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Theme {
    /// For dim rooms.
    #[default]
    Dark,
    /// For bright rooms.
    Light,
    /// For whoever needs more contrast.
    Contrast,
}

impl Theme {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Dark, Self::Light, Self::Contrast];

    /// As a control says it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Dark => "dark",
            Self::Light => "light",
            Self::Contrast => "high contrast",
        }
    }
}

/// A part of the screen that is drawn out when it is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Drawer {
    /// Every reading.
    Ledger,
    /// How the halves add.
    Halves,
    /// The spectrum.
    Spectrum,
    /// All entries.
    Entries,
    /// The user's own meter.
    YourMeter,
    /// The sum test.
    SumTest,
    /// Every choice.
    Settings,
}

impl Drawer {
    /// All of them, in the order of their tabs.
    pub const ALL: [Self; 7] = [
        Self::Ledger,
        Self::Halves,
        Self::Spectrum,
        Self::Entries,
        Self::YourMeter,
        Self::SumTest,
        Self::Settings,
    ];

    /// As its tab says it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Ledger => "Ledger",
            Self::Halves => "Halves",
            Self::Spectrum => "Spectrum",
            Self::Entries => "Entries",
            Self::YourMeter => "Your meter",
            Self::SumTest => "Sum test",
            Self::Settings => "Settings",
        }
    }
}

/// How the window looked when it was last open.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Look {
    /// Width, in logical points.
    pub width_points: f32,
    /// Height, in logical points.
    pub height_points: f32,
    /// Whether the dark colours were shown, in states of before there were more than two themes.
    #[serde(skip_serializing)]
    dark: Option<bool>,
    /// The colours; none in states of before.
    theme: Option<Theme>,
    /// The drawer that is open.
    pub drawer: Option<Drawer>,
    /// How much time is shown.
    pub span: Span,
}

impl Default for Look {
    fn default() -> Self {
        Self {
            width_points: FIRST_POINTS.0,
            height_points: FIRST_POINTS.1,
            dark: None,
            theme: None,
            drawer: None,
            span: Span::default(),
        }
    }
}

impl Look {
    /// The colours.
    #[must_use]
    pub fn theme(&self) -> Theme {
        let before = if self.dark == Some(false) { Theme::Light } else { Theme::Dark };
        self.theme.unwrap_or(before)
    }

    /// The same in other colours.
    #[must_use]
    pub fn with_theme(self, theme: Theme) -> Self {
        Self { dark: None, theme: Some(theme), ..self }
    }

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
            ..self
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
