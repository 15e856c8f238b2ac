//! What a saved state holds that this version does not understand. It is kept, and written back where
//! it was, so that a newer version finds it again: parameters and fields that do not exist here,
//! values that no parameter can have here as long as nobody chooses another, and whole states of
//! another shape.
//!
//! The framework writes a state from the parameters it knows and from fields. So what is kept
//! travels in the mark's field, and [`unfold`](super::mark::unfold) puts it back where it belongs: in what is saved,
//! before the host gets it, and in what is loaded, wherever it was not done.

use std::collections::BTreeMap;

use nice_plug::plugin::ParamValue;
use nice_plug::prelude::PluginState;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use super::fields::{FIELD, METER_FIELD, OWN_FIELD, WINDOW_FIELD};
use super::window::Look;
use crate::sum_test::entries::Entries;

/// What is kept of a state.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct Kept {
    params: BTreeMap<String, Unread<ParamValue>>,
    fields: BTreeMap<String, Unread<String>>,
    /// A state that was left aside whole.
    aside: Option<PluginState>,
}

/// Something that was not understood.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Unread<T> {
    saved: T,
    /// What was loaded in its place: as long as that stands, nobody has chosen anything else.
    stands_in: Option<T>,
}

impl Kept {
    /// Whether there is nothing to keep.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.params.is_empty() && self.fields.is_empty() && self.aside.is_none()
    }

    /// Keeps what of `saved` is not in `loaded`, which was made from it.
    #[must_use]
    pub fn of(saved: &PluginState, loaded: &PluginState) -> Self {
        let params = saved.params.iter().filter(|(id, value)| {
            // What JSON has no number for would make the whole state unreadable.
            is_finite(value) && loaded.params.get(*id).is_none_or(|own| !same(own, value))
        });
        let fields = saved.fields.iter().filter(|(name, text)| match own_keys(name) {
            Some(own) => keys(text).is_some_and(|keys| {
                loaded.fields.get(*name) != Some(text) || keys.iter().any(|k| !own.contains(k))
            }),
            None => name.as_str() != FIELD,
        });
        let unread = |id: &String, saved: &ParamValue| Unread {
            saved: saved.clone(),
            stands_in: loaded.params.get(id).cloned(),
        };
        let unread_field = |name: &String, saved: &String| Unread {
            saved: saved.clone(),
            stands_in: loaded.fields.get(name).cloned(),
        };
        Self {
            params: params.map(|(id, value)| (id.clone(), unread(id, value))).collect(),
            fields: fields.map(|(name, text)| (name.clone(), unread_field(name, text))).collect(),
            aside: None,
        }
    }

    /// Keeps a state whole.
    #[must_use]
    pub fn aside(mut saved: PluginState) -> Self {
        saved.params.retain(|_, value| is_finite(value));
        Self { aside: Some(saved), ..Self::default() }
    }

    /// The same, with another state left aside.
    #[must_use]
    pub fn with_aside_of(self, other: Self) -> Self {
        Self { aside: other.aside.or(self.aside), ..self }
    }

    /// Puts it back to where it was. A state of another shape comes first again, with ours in one of
    /// its fields.
    pub(super) fn put_back(self, state: &mut PluginState) {
        for (id, unread) in self.params {
            let present = state.params.get(&id);
            let untouched = match (present, &unread.stands_in) {
                (Some(present), Some(stands_in)) => same(present, stands_in),
                (present, _) => present.is_none(),
            };
            if untouched {
                state.params.insert(id, unread.saved);
            }
        }
        for (name, unread) in self.fields {
            let text = match state.fields.get(&name) {
                None => unread.saved,
                Some(present) if unread.stands_in.as_ref() == Some(present) => unread.saved,
                Some(present) => with_keys_of(present, &unread.saved),
            };
            state.fields.insert(name, text);
        }
        if let Some(mut aside) = self.aside
            && let Ok(own) = serde_json::to_string(state)
        {
            aside.fields.insert(OWN_FIELD.into(), own);
            *state = aside;
        }
    }
}

/// The keys that this version writes into a field; `None` for a field that it does not have.
fn own_keys(name: &str) -> Option<Vec<String>> {
    let text = match name {
        METER_FIELD => serde_json::to_string(&Entries::default()),
        WINDOW_FIELD => serde_json::to_string(&Look::default()),
        _ => return None,
    };
    text.ok().and_then(|text| keys(&text))
}

/// The keys of a JSON object.
fn keys(text: &str) -> Option<Vec<String>> {
    serde_json::from_str::<Map<String, Value>>(text)
        .ok()
        .map(|object| object.into_iter().map(|(key, _)| key).collect())
}

/// A JSON object with what another has besides; the text as it is where either is none.
fn with_keys_of(present: &str, other: &str) -> String {
    let object = |text: &str| serde_json::from_str::<Map<String, Value>>(text).ok();
    let (Some(mut merged), Some(other)) = (object(present), object(other)) else {
        return present.to_owned();
    };
    for (key, value) in other {
        merged.entry(key).or_insert(value);
    }
    Value::Object(merged).to_string()
}

fn same(one: &ParamValue, other: &ParamValue) -> bool {
    match (one, other) {
        (ParamValue::F32(one), ParamValue::F32(other)) => one == other,
        (ParamValue::I32(one), ParamValue::I32(other)) => one == other,
        (ParamValue::Bool(one), ParamValue::Bool(other)) => one == other,
        (ParamValue::String(one), ParamValue::String(other)) => one == other,
        _ => false,
    }
}

fn is_finite(value: &ParamValue) -> bool {
    !matches!(value, ParamValue::F32(value) if !value.is_finite())
}
