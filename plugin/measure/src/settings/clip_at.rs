//! Where clipping is thought.

use serde::{Deserialize, Serialize};

/// Where clipping is thought that has not happened yet, to tell what it would add.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ClipAt {
    /// At full scale, as fixed point does.
    #[default]
    FullScale,
    /// At the ceiling.
    Ceiling,
}
