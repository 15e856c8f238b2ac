//! The mark in a saved state: whose it is, of which version, and what travels with it.

use std::collections::BTreeMap;

use nice_plug::prelude::PluginState;
use serde::{Deserialize, Serialize};

use super::fields::FIELD;
use super::kept::Kept;
use super::switched_off::Ids;

/// Name of the shape of a saved state, before its version.
const SHAPE: &str = "ledgerline.state/";
/// The version of the shape that is written, and the newest that is read.
const VERSION: u32 = 1;

/// The mark in a saved state.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct Mark {
    /// Name and version of the state's shape.
    pub(super) schema: String,
    /// What another version saved, and what to do with it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) kept: Option<Kept>,
    /// What [`filter`](super::saved::filter) has to say about the state that is loaded. Never saved.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) loaded: Option<Loaded>,
    /// What later versions have added.
    #[serde(flatten)]
    pub(super) more: BTreeMap<String, serde_json::Value>,
}

/// What came of a state.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub(super) struct Loaded {
    /// What to tell the user.
    pub(super) message: Option<String>,
    /// Whether the present settings stay.
    pub(super) stays: bool,
    /// What is to be switched off.
    pub(super) off: Option<Ids>,
}

impl Mark {
    /// The mark of this version.
    pub(super) fn own() -> Self {
        Self { schema: format!("{SHAPE}{VERSION}"), ..Self::default() }
    }
}

/// The mark of a state of ours.
///
/// # Errors
///
/// A sentence for the user when the state is not ours, or newer than this version.
pub(super) fn version(state: &PluginState) -> Result<Mark, String> {
    let foreign = || "The saved settings are not Ledgerline's; the present ones stay.".to_owned();
    let text = state.fields.get(FIELD).ok_or_else(foreign)?;
    let mark: Mark = serde_json::from_str(text).map_err(|_| foreign())?;
    let number = mark.schema.strip_prefix(SHAPE).ok_or_else(foreign)?;
    let version: u32 = number.parse().map_err(|_| foreign())?;
    match version {
        1..=VERSION => Ok(mark),
        0 => Err(foreign()),
        _ => {
            Err("The saved settings come from a newer Ledgerline; the present ones stay, and are \
                  saved beside the newer ones."
                .into())
        }
    }
}

/// Puts what was kept of another state back to where it was. A state of another shape comes first
/// again, with ours in one of its fields.
pub fn unfold(state: &mut PluginState) {
    let Some(text) = state.fields.get(FIELD) else { return };
    let Ok(mut mark) = serde_json::from_str::<Mark>(text) else { return };
    let Some(kept) = mark.kept.take() else { return };
    if let Ok(text) = serde_json::to_string(&mark) {
        state.fields.insert(FIELD.into(), text);
        kept.put_back(state);
    }
}

/// The same for a state as it is written to a file; `None` where there is nothing to put back, or
/// nothing that can be read.
#[must_use]
pub fn unfolded(json: &[u8]) -> Option<Vec<u8>> {
    let mut state: PluginState = serde_json::from_slice(json).ok()?;
    let mark: Mark = serde_json::from_str(state.fields.get(FIELD)?).ok()?;
    mark.kept?;
    unfold(&mut state);
    serde_json::to_vec(&state).ok()
}
