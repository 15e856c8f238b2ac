//! What a saved state must look like before its values are believed. What is not ours, or newer
//! than this version, is left aside whole; a value that no parameter can have becomes the default.
//! Neither is lost ([`super::kept`]). Whatever replaces the output is off after loading
//! ([`super::switched_off`]).

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use nice_plug::params::persist::PersistentField;
use nice_plug::plugin::ParamValue;
use nice_plug::prelude::{Enum, PluginState};

use super::fields::{FIELD, METER_FIELD, OWN_FIELD};
use super::kept::Kept;
use super::kinds::{
    ClipAtKind, FeedsPlayKind, HalvesKind, ListenKind, MeterBandKind, MeterDetectorKind,
    ReferenceKind, SumTestKind, TargetKind, TruePeakKind, WindowKind,
};
use super::mark::{Loaded, Mark, unfold, version};
use super::switched_off::{Held, SwitchedOff, what_is_on};
use crate::choices::{
    CEILING_RANGE_DB, Choices, FEED_LEVEL_RANGE_DBFS, METER_OFFSET_RANGE_DB, PAIR_RANGE_S,
    PEAK_WINDOW_RANGE_S, TARGET_RANGE,
};
use crate::status::{Status, Subject};
use crate::sum_test::entries::{Entries, Saved};
use ledgerline_measure::settings::{LOWER_EDGE_RANGE_HZ, UPPER_EDGE_RANGE_HZ};

/// Writes the mark with what is kept, and hands what [`filter`] found on to the editor.
pub struct Marker {
    /// What counts as off since the latest state was loaded.
    pub held: Held,
    status: Arc<Status>,
    remembered: Mutex<Remembered>,
}

#[derive(Default)]
struct Remembered {
    kept: Kept,
    more: BTreeMap<String, serde_json::Value>,
    off: Option<SwitchedOff>,
}

impl Marker {
    pub(super) fn new(status: Arc<Status>) -> Self {
        Self { held: Held::default(), status, remembered: Mutex::default() }
    }

    /// What the latest state had on and is off since it was loaded, until somebody answers.
    #[must_use]
    pub fn switched_off(&self) -> Option<SwitchedOff> {
        self.lock().off
    }

    /// What was switched off is on again, or is to stay off.
    pub fn answer(&self, off: SwitchedOff) {
        let mut remembered = self.lock();
        if remembered.off == Some(off) {
            remembered.off = None;
        }
    }

    fn lock(&self) -> MutexGuard<'_, Remembered> {
        // What is remembered is replaced whole.
        self.remembered.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl PersistentField<'_, Mark> for Marker {
    fn set(&self, mark: Mark) {
        let loaded = mark.loaded.unwrap_or_default();
        self.status.set(Subject::State, loaded.message);
        let (kept, mut remembered) = (mark.kept.unwrap_or_default(), self.lock());
        if loaded.stays {
            remembered.kept = std::mem::take(&mut remembered.kept).with_aside_of(kept);
            return;
        }
        let off = loaded.off.as_ref().and_then(SwitchedOff::from_ids);
        self.held.hold(off);
        *remembered = Remembered { kept, more: mark.more, off };
    }

    fn map<F, R>(&self, f: F) -> R
    where
        F: Fn(&Mark) -> R,
    {
        let mark = {
            let remembered = self.lock();
            let kept = Some(remembered.kept.clone()).filter(|kept| !kept.is_empty());
            Mark { kept, more: remembered.more.clone(), ..Mark::own() }
        };
        f(&mark)
    }
}

/// Makes a state safe to load: its values as they are, its values corrected, or nothing at all.
/// The framework calls this before it sets any parameter, without saying for which instance; so
/// what there is to say travels in the mark.
pub fn filter(state: &mut PluginState) {
    unfold(state);
    let mark = match version(state) {
        Ok(mark) => load(state, mark),
        Err(refusal) => match own_within(state) {
            Some((own, mark)) => {
                let aside = Kept::aside(std::mem::replace(state, own));
                let mark = load(state, mark);
                let kept = mark.kept.clone().unwrap_or_default().with_aside_of(aside);
                Mark { kept: Some(kept), ..mark }
            }
            None => {
                let kept = Some(Kept::aside(state.clone()));
                state.params.clear();
                state.fields.clear();
                let loaded = Loaded { message: Some(refusal), stays: true, off: None };
                Mark { kept, loaded: Some(loaded), ..Mark::own() }
            }
        },
    };
    if let Ok(text) = serde_json::to_string(&mark) {
        state.fields.insert(FIELD.into(), text);
    }
}

/// Corrects a state of ours, and says what came of it.
fn load(state: &mut PluginState, mark: Mark) -> Mark {
    let saved = state.clone();
    let mut wrong = correct(&mut state.params);
    wrong.extend(correct_meter(&mut state.fields));
    let kept = Kept::of(&saved, state);
    let off = what_is_on(&state.params);
    let loaded = Loaded { message: at_defaults(&wrong), stays: false, off };
    Mark { kept: Some(kept), loaded: Some(loaded), more: mark.more, ..Mark::own() }
}

/// A state of ours that was saved within one of another shape, which is left without it.
fn own_within(state: &mut PluginState) -> Option<(PluginState, Mark)> {
    let own: PluginState = serde_json::from_str(state.fields.get(OWN_FIELD)?).ok()?;
    let mark = version(&own).ok()?;
    state.fields.remove(OWN_FIELD);
    Some((own, mark))
}

/// Parameters that came after the first states were saved: a state without them is older, and not
/// damaged.
const LATER: [&str; 10] = [
    "sum_test",
    "feed_level",
    "feed_offline",
    "mark",
    "your_meter",
    "your_meter_band",
    "your_meter_offset",
    "feeds_play",
    "loop_pair",
    "clip_at",
];

/// What to tell the user about settings that had no usable value.
fn at_defaults(wrong: &[String]) -> Option<String> {
    (!wrong.is_empty()).then(|| {
        format!(
            "Saved settings without a usable value are at their defaults: {}.",
            wrong.join(", ")
        )
    })
}

/// Leaves readings of the mixer's meter that can be some. A state from before they were saved has
/// none. Names the field if anything in it was of no use.
fn correct_meter(fields: &mut BTreeMap<String, String>) -> Option<String> {
    let text = fields.get(METER_FIELD);
    let saved = text.map(|text| serde_json::from_str::<Saved>(text).ok());
    let sound = saved.as_ref().is_none_or(|saved| saved.as_ref().is_some_and(Saved::is_sound));
    let entries = saved.flatten().map_or_else(Entries::default, Entries::from);
    if let Ok(text) = serde_json::to_string(&entries) {
        fields.insert(METER_FIELD.into(), text);
    }
    (!sound).then(|| METER_FIELD.to_owned())
}

/// Leaves exactly the parameters there are, each with a value that it can have. Names those that
/// had none.
fn correct(params: &mut BTreeMap<String, ParamValue>) -> Vec<String> {
    // Every field by name: a choice that is not corrected does not compile.
    let Choices {
        target_kind,
        target_value,
        ceiling_db,
        low_edge_hz,
        high_edge_hz,
        halves,
        rms_window,
        rms_reference,
        peak_window_s,
        true_peak,
        clip_at,
        listen,
        sum_test,
        feed_level_dbfs,
        feed_offline,
        meter_detector,
        meter_band,
        meter_offset_db,
        log,
        bypass,
        feeds_play,
        pair_s,
    } = Choices::default();
    let mut sound = BTreeMap::new();
    let mut wrong = Vec::new();
    let mut keep = |id: &str, value: Result<ParamValue, ParamValue>| {
        let older = LATER.contains(&id) && !params.contains_key(id);
        let value = value.unwrap_or_else(|default| {
            if !older {
                wrong.push(id.to_owned());
            }
            default
        });
        sound.insert(id.to_owned(), value);
    };
    for (id, range, default) in [
        ("target", TARGET_RANGE, target_value),
        ("ceiling", CEILING_RANGE_DB, ceiling_db),
        ("low_edge", LOWER_EDGE_RANGE_HZ, low_edge_hz),
        ("high_edge", UPPER_EDGE_RANGE_HZ, high_edge_hz),
        ("peak_hold", PEAK_WINDOW_RANGE_S, peak_window_s),
        ("feed_level", FEED_LEVEL_RANGE_DBFS, feed_level_dbfs),
        ("your_meter_offset", METER_OFFSET_RANGE_DB, meter_offset_db),
        ("loop_pair", PAIR_RANGE_S, pair_s),
    ] {
        keep(id, number(params.get(id), range, default));
    }
    for (id, default) in [
        ("reset", false),
        ("mark", false),
        ("log", log),
        ("bypass", bypass),
        ("feed_offline", feed_offline),
    ] {
        keep(id, switch(params.get(id), default));
    }
    keep("target_kind", one_of::<TargetKind>(params.get("target_kind"), target_kind.into()));
    keep("halves", one_of::<HalvesKind>(params.get("halves"), halves.into()));
    keep("rms_window", one_of::<WindowKind>(params.get("rms_window"), rms_window.into()));
    keep(
        "rms_reference",
        one_of::<ReferenceKind>(params.get("rms_reference"), rms_reference.into()),
    );
    keep("true_peak", one_of::<TruePeakKind>(params.get("true_peak"), true_peak.into()));
    keep("clip_at", one_of::<ClipAtKind>(params.get("clip_at"), clip_at.into()));
    keep("sum_test", one_of::<SumTestKind>(params.get("sum_test"), sum_test.into()));
    keep("feeds_play", one_of::<FeedsPlayKind>(params.get("feeds_play"), feeds_play.into()));
    keep("listen", one_of::<ListenKind>(params.get("listen"), listen.into()));
    keep(
        "your_meter",
        one_of::<MeterDetectorKind>(params.get("your_meter"), meter_detector.into()),
    );
    keep(
        "your_meter_band",
        one_of::<MeterBandKind>(params.get("your_meter_band"), meter_band.into()),
    );
    *params = sound;
    wrong
}

fn number(
    value: Option<&ParamValue>,
    (least, most): (f64, f64),
    default: f64,
) -> Result<ParamValue, ParamValue> {
    match value {
        Some(ParamValue::F32(value)) if (least as f32..=most as f32).contains(value) => {
            Ok(ParamValue::F32(*value))
        }
        _ => Err(ParamValue::F32(default as f32)),
    }
}

fn switch(value: Option<&ParamValue>, default: bool) -> Result<ParamValue, ParamValue> {
    match value {
        Some(ParamValue::Bool(value)) => Ok(ParamValue::Bool(*value)),
        _ => Err(ParamValue::Bool(default)),
    }
}

fn one_of<E: Enum>(value: Option<&ParamValue>, default: E) -> Result<ParamValue, ParamValue> {
    let ids = E::ids().unwrap_or_default();
    match value {
        Some(ParamValue::String(id)) if ids.contains(&id.as_str()) => {
            Ok(ParamValue::String(id.clone()))
        }
        _ => Err(ParamValue::String(ids[default.to_index()].into())),
    }
}

#[cfg(test)]
mod tests {
    use nice_plug::prelude::Params;

    use super::*;
    use crate::params::LedgerlineParams;
    use crate::params::window::Theme;

    fn parsed(json: &str) -> PluginState {
        serde_json::from_str(json).expect("a state that the framework can parse")
    }

    /// Loads only what does not need the framework: the fields, and with them the message.
    fn message_after(state: &PluginState) -> Option<String> {
        let status = Arc::new(Status::default());
        LedgerlineParams::new(Arc::default(), status.clone()).deserialize_fields(&state.fields);
        status.messages().pop()
    }

    fn own_fields() -> BTreeMap<String, String> {
        LedgerlineParams::new(Arc::default(), Arc::default()).serialize_fields()
    }

    #[test]
    fn a_foreign_or_newer_state_is_left_aside_whole_and_said() {
        for json in [
            r#"{"version":"0.1.0","params":{"ceiling":{"f32":-9.0}},"fields":{}}"#,
            r#"{"params":{"ceiling":{"f32":-9.0}},"fields":{"state":"17"}}"#,
            r#"{"params":{"gain":{"f32":2.0}},"fields":{"state":"{\"schema\":\"other/1\"}"}}"#,
            r#"{"params":{"ceiling":{"f32":-9.0}},"fields":{"state":"{\"schema\":\"ledgerline.state/2\"}"}}"#,
        ] {
            let mut state = parsed(json);
            filter(&mut state);
            assert!(state.params.is_empty(), "{json}");
            assert!(message_after(&state).expect(json).contains("the present ones stay"));
        }
    }

    #[test]
    fn values_that_no_parameter_can_have_become_defaults_and_are_named() {
        let mut state = parsed(
            r#"{"params":{
                "ceiling":{"f32":1e300}, "target":{"bool":true}, "low_edge":{"f32":0.0},
                "halves":{"i32":99}, "listen":{"string":"everything"}, "peak_hold":{"f32":0.5},
                "unknown":{"f32":1.0}},"fields":{}}"#,
        );
        state.fields = own_fields();
        filter(&mut state);
        assert!(matches!(state.params["ceiling"], ParamValue::F32(v) if v == -1.0));
        assert!(matches!(state.params["target"], ParamValue::F32(v) if v == -23.0));
        assert!(matches!(state.params["low_edge"], ParamValue::F32(v) if v == 20.0));
        assert!(matches!(&state.params["halves"], ParamValue::String(id) if id == "left_right"));
        assert!(matches!(&state.params["listen"], ParamValue::String(id) if id == "off"));
        assert!(matches!(state.params["peak_hold"], ParamValue::F32(v) if v == 0.5));
        assert!(!state.params.contains_key("unknown"));
        let message = message_after(&state).expect("a message");
        assert!(message.contains("ceiling") && !message.contains("peak_hold"), "{message}");
    }

    #[test]
    fn what_is_corrected_is_every_parameter_there_is() {
        let mut params = BTreeMap::new();
        correct(&mut params);
        let there_are = LedgerlineParams::new(Arc::default(), Arc::default()).param_map();
        let mut ids: Vec<String> = there_are.into_iter().map(|(id, _, _)| id).collect();
        ids.sort();
        assert_eq!(params.into_keys().collect::<Vec<_>>(), ids);
    }

    #[test]
    fn a_state_from_before_the_sum_test_has_it_off_and_is_not_blamed() {
        let mut params = BTreeMap::new();
        correct(&mut params);
        for id in LATER {
            params.remove(id);
        }
        assert_eq!(correct(&mut params), Vec::<String>::new());
        assert!(matches!(&params["sum_test"], ParamValue::String(id) if id == "off"));
        assert!(matches!(params["feed_level"], ParamValue::F32(v) if v == -20.0));
        assert!(matches!(params["feed_offline"], ParamValue::Bool(false)));
        params.insert("feed_level".into(), ParamValue::F32(0.0));
        assert_eq!(correct(&mut params), ["feed_level"]);
        assert!(matches!(params["feed_level"], ParamValue::F32(v) if v == -20.0));
    }

    #[test]
    fn a_state_from_before_there_could_be_no_target_keeps_its_own() {
        let mut state = parsed(
            r#"{"params":{"target_kind":{"string":"loudness"},"target":{"f32":-16.0}},"fields":{}}"#,
        );
        state.fields = own_fields();
        filter(&mut state);
        let kind = &state.params["target_kind"];
        assert!(matches!(kind, ParamValue::String(id) if id == "loudness"));
        assert!(matches!(state.params["target"], ParamValue::F32(v) if v == -16.0));
        let fresh = LedgerlineParams::new(Arc::default(), Arc::default()).choices();
        assert_eq!(fresh.view().target, None);
    }

    #[test]
    fn readings_of_the_mixers_meter_come_back_and_impossible_ones_are_named() {
        let recalled = |text: Option<&str>| {
            let mut state = parsed(r#"{"params":{},"fields":{}}"#);
            state.fields = own_fields();
            correct(&mut state.params);
            state.fields.remove(METER_FIELD);
            if let Some(text) = text {
                state.fields.insert(METER_FIELD.into(), text.into());
            }
            filter(&mut state);
            let status = Arc::new(Status::default());
            let params = LedgerlineParams::new(Arc::default(), status.clone());
            // Whatever was typed before the recall is gone.
            let before =
                Entries { shown_db: [Some(1.0); 16], resolution_db: 3.0, ..Entries::default() };
            params.meter.set_entries(before);
            params.deserialize_fields(&state.fields);
            (params.meter.entries(), status.messages())
        };
        let (entries, messages) =
            recalled(Some(r#"{"shown_db":[-24,null,-17.5],"resolution_db":0.1}"#));
        assert_eq!(entries.shown_db[..4], [Some(-24.0), None, Some(-17.5), None]);
        assert_eq!(entries.resolution_db, 0.1);
        assert!(messages.iter().all(|message| !message.contains(METER_FIELD)), "{messages:?}");
        assert_eq!(recalled(None).0, Entries::default(), "an older state");
        for text in [
            "17",
            "{",
            r#"{"shown_db":["x"],"resolution_db":1}"#,
            r#"{"shown_db":[1e300],"resolution_db":1}"#,
            r#"{"shown_db":[],"resolution_db":-1}"#,
        ] {
            let (entries, messages) = recalled(Some(text));
            assert_eq!(entries, Entries::default(), "{text}");
            assert!(messages.iter().any(|message| message.contains(METER_FIELD)), "{text}");
        }
    }

    #[test]
    fn a_window_of_impossible_size_becomes_possible() {
        let mut fields = own_fields();
        fields.insert(
            "window".into(),
            r#"{"width_points":1e30,"height_points":-5,"dark":false}"#.into(),
        );
        let params = LedgerlineParams::new(Arc::default(), Arc::default());
        params.deserialize_fields(&fields);
        let look = params.window.look();
        assert_eq!(
            (look.width_points, look.height_points, look.theme()),
            (7680.0, 160.0, Theme::Light)
        );
    }
}
