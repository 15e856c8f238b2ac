//! What a saved state had switched on and loading switches off: whatever replaces the output never
//! comes back unasked with a project.
//!
//! A host expects to read the parameters that it has loaded. So they come as they were saved, but
//! are held: until the next block, or until somebody chooses, they count as off. With the next
//! block they are set to off, and the host is told, as of any change that a plugin makes; what the
//! host sends with that block comes after it, and counts.

use ledgerline_measure::words;

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU8, Ordering};

use nice_plug::plugin::ParamValue;
use nice_plug::prelude::Enum;
use serde::{Deserialize, Serialize};

use super::kinds::{ListenKind, SumTestKind};
use crate::choices::{Choices, Listen, SumTest};

/// What was on. The role *bus* only hears, and is never switched off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct SwitchedOff {
    /// What was listened to.
    pub listen: Listen,
    /// The feed that played.
    pub feed: SumTest,
}

/// Which parameters are held.
#[derive(Debug, Default)]
pub struct Held(AtomicU8);

/// A parameter that replaces the output.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Replacing {
    /// The listening mode.
    Listen = 1,
    /// The role in the sum test, where it is a feed's.
    Feed = 2,
}

/// A state is being loaded: everything that replaces the output counts as off.
const LOADING: u8 = 4;

impl Held {
    /// Whether a parameter counts as off whatever it says.
    #[must_use]
    pub fn holds(&self, which: Replacing) -> bool {
        self.0.load(Ordering::Acquire) & (which as u8 | LOADING) != 0
    }

    /// Whether a parameter has come with a state and is to be set to off.
    #[must_use]
    pub fn is_due(&self, which: Replacing) -> bool {
        self.0.load(Ordering::Acquire) & which as u8 != 0
    }

    /// Somebody has chosen: the parameter counts.
    pub fn release(&self, which: Replacing) {
        self.0.fetch_and(!(which as u8), Ordering::AcqRel);
    }

    /// Holds what a state had on, and nothing else.
    pub(super) fn hold(&self, off: Option<SwitchedOff>) {
        let off = off.unwrap_or_default();
        let listen = if off.listen == Listen::Off { 0 } else { Replacing::Listen as u8 };
        let feed = if off.feed == SumTest::Off { 0 } else { Replacing::Feed as u8 };
        let loading = self.0.load(Ordering::Acquire) & LOADING;
        self.0.store(listen | feed | loading, Ordering::Release);
    }

    /// A state begins or ends to be loaded.
    pub fn set_loading(&self, loading: bool) {
        if loading {
            self.0.fetch_or(LOADING, Ordering::AcqRel);
        } else {
            self.0.fetch_and(!LOADING, Ordering::AcqRel);
        }
    }
}

/// The same by the ids of saved states.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct Ids {
    listen: Option<String>,
    feed: Option<String>,
}

impl SwitchedOff {
    /// Whether the user has switched on something that replaces the output.
    #[must_use]
    pub fn is_answered_by(choices: &Choices) -> bool {
        choices.listen != Listen::Off || choices.sum_test.feed().is_some()
    }

    /// Switches on again what was on.
    pub fn go_on(self, choices: &mut Choices) {
        if self.listen != Listen::Off {
            choices.listen = self.listen;
        }
        if self.feed.feed().is_some() {
            choices.sum_test = self.feed;
        }
    }

    /// What was on and is off, in a sentence.
    #[must_use]
    pub fn sentence(self) -> String {
        let listen = match self.listen {
            Listen::Off => None,
            Listen::Audible => Some("listening to the audible band"),
            Listen::Hidden => Some("listening to the hidden content"),
            Listen::Damage => Some("listening to the damage of clipping"),
        };
        let feed = self.feed.feed().map(|_| self.feed.word());
        let on: Vec<&str> = listen.into_iter().chain(feed).collect();
        format!("Loading has switched off {}.", words::list(&on))
    }

    /// What ids say was on, if anything was.
    #[must_use]
    pub fn from_ids(ids: &Ids) -> Option<Self> {
        let listen =
            ids.listen.as_deref().and_then(of_id::<ListenKind>).map_or(Listen::Off, Into::into);
        let feed =
            ids.feed.as_deref().and_then(of_id::<SumTestKind>).map_or(SumTest::Off, Into::into);
        let on = Self { listen, feed };
        (on != Self::default()).then_some(on)
    }
}

/// What a state has on that replaces the output.
pub fn what_is_on(params: &BTreeMap<String, ParamValue>) -> Option<Ids> {
    let on = |id: &str, quiet: &[&str]| match params.get(id) {
        Some(ParamValue::String(on)) if !quiet.contains(&on.as_str()) => Some(on.clone()),
        _ => None,
    };
    let ids = Ids {
        listen: on("listen", &[id_of(ListenKind::Off)]),
        feed: on("sum_test", &[id_of(SumTestKind::Off), id_of(SumTestKind::Bus)]),
    };
    (ids != Ids::default()).then_some(ids)
}

fn of_id<E: Enum>(id: &str) -> Option<E> {
    let index = E::ids()?.iter().position(|candidate| *candidate == id)?;
    Some(E::from_index(index))
}

fn id_of<E: Enum>(kind: E) -> &'static str {
    E::ids().map_or("", |ids| ids[kind.to_index()])
}
