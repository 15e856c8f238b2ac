//! The plugin's parameters: names, units, ranges and ids. An id is a promise to every project file
//! ever saved; it never changes, and none is used again for something else.

mod fields;
mod kept;
mod kinds;
mod listed;
pub mod mark;
pub mod meter;
pub mod saved;
pub mod switched_off;
pub mod window;

use std::sync::Arc;

use ledgerline_measure::settings::{LOWER_EDGE_RANGE_HZ, UPPER_EDGE_RANGE_HZ};
use ledgerline_measure::words;
use nice_plug::formatters;
use nice_plug::prelude::*;

use crate::choices::{
    CEILING_RANGE_DB, Choices, FEED_LEVEL_RANGE_DBFS, Listen, METER_OFFSET_RANGE_DB, PAIR_RANGE_S,
    PEAK_WINDOW_RANGE_S, SumTest, TARGET_RANGE,
};
use crate::handover::Buttons;
use crate::status::Status;
use crate::typed;
pub use kinds::{
    ClipAtKind, FeedsPlayKind, HalvesKind, ListenKind, MeterBandKind, MeterDetectorKind,
    ReferenceKind, SumTestKind, TargetKind, TruePeakKind, WindowKind,
};
pub use listed::Listed;
use meter::MeterShown;
use saved::Marker;
use switched_off::Replacing;
use window::Window;

/// Every parameter, in the order in which hosts list them.
#[derive(Params)]
pub struct LedgerlineParams {
    /// What kind of level is aimed at, if any.
    #[id = "target_kind"]
    pub target_kind: EnumParam<TargetKind>,
    /// The level aimed at: LUFS, dBFS or dBTP, by kind.
    #[id = "target"]
    pub target: FloatParam,
    /// The highest peak allowed.
    #[id = "ceiling"]
    pub ceiling: FloatParam,
    /// Lower edge of the audible band.
    #[id = "low_edge"]
    pub low_edge: FloatParam,
    /// Upper edge of the audible band.
    #[id = "high_edge"]
    pub high_edge: FloatParam,
    /// What the halves are.
    #[id = "halves"]
    pub halves: EnumParam<HalvesKind>,
    /// Length of the RMS window.
    #[id = "rms_window"]
    pub rms_window: EnumParam<WindowKind>,
    /// What 0 dBFS means for RMS.
    #[id = "rms_reference"]
    pub rms_reference: EnumParam<ReferenceKind>,
    /// Length of the sample-peak window.
    #[id = "peak_hold"]
    pub peak_hold: FloatParam,
    /// How the true peak is found.
    #[id = "true_peak"]
    pub true_peak: EnumParam<TruePeakKind>,
    /// Where clipping is thought, to tell what it would add.
    #[id = "clip_at"]
    pub clip_at: EnumParam<ClipAtKind>,
    /// What the output carries.
    #[id = "listen"]
    pub listen: EnumParam<ListenKind>,
    /// What this instance does in the sum test.
    #[id = "sum_test"]
    pub sum_test: EnumParam<SumTestKind>,
    /// Level of the feeds.
    #[id = "feed_level"]
    pub feed_level: FloatParam,
    /// Whether a feed plays in an offline render as well.
    #[id = "feed_offline"]
    pub feed_offline: BoolParam,
    /// Clears the readings whenever it is switched on.
    #[id = "reset"]
    pub reset: BoolParam,
    /// Begins another entry whenever it is switched on.
    #[id = "mark"]
    pub mark: BoolParam,
    /// Whether the log is written.
    #[id = "log"]
    pub log: BoolParam,
    /// Whether the output is the input and nothing is measured.
    #[id = "bypass"]
    pub bypass: BoolParam,
    /// How the user's own meter reads, if that is known.
    #[id = "your_meter"]
    pub your_meter: EnumParam<MeterDetectorKind>,
    /// The band that it reads.
    #[id = "your_meter_band"]
    pub your_meter_band: EnumParam<MeterBandKind>,
    /// What its scale adds to dBFS.
    #[id = "your_meter_offset"]
    pub your_meter_offset: FloatParam,
    /// What the feeds play.
    #[id = "feeds_play"]
    pub feeds_play: EnumParam<FeedsPlayKind>,
    /// How long each pair of the loop plays.
    #[id = "loop_pair"]
    pub loop_pair: FloatParam,
    /// Marks a saved state as ours.
    #[persist = "state"]
    pub marker: Marker,
    /// Size and look of the editor's window.
    #[persist = "window"]
    pub window: Arc<Window>,
    /// What the mixer's own meter showed in the sum test.
    #[persist = "meter_shown"]
    pub meter: Arc<MeterShown>,
}

impl LedgerlineParams {
    /// All parameters at their defaults. `buttons` are pressed on whatever thread switches Reset or
    /// Mark on, the audio thread included; `status` hears of saved states that were left aside.
    #[must_use]
    pub fn new(buttons: Arc<Buttons>, status: Arc<Status>) -> Self {
        Self::starting_with(Choices::default(), buttons, status)
    }

    /// The same with other defaults.
    #[must_use]
    pub fn starting_with(start: Choices, buttons: Arc<Buttons>, status: Arc<Status>) -> Self {
        let (reset, mark) = (buttons.clone(), buttons);
        Self {
            target_kind: EnumParam::new("Target kind", start.target_kind.into()),
            target: level("Target", start.target_value, TARGET_RANGE, ""),
            ceiling: level("Ceiling", start.ceiling_db, CEILING_RANGE_DB, " dB"),
            low_edge: frequency("Lower edge", start.low_edge_hz, LOWER_EDGE_RANGE_HZ),
            high_edge: frequency("Upper edge", start.high_edge_hz, UPPER_EDGE_RANGE_HZ),
            halves: EnumParam::new("Halves", start.halves.into()),
            rms_window: EnumParam::new("RMS window", start.rms_window.into()),
            rms_reference: EnumParam::new("RMS reference", start.rms_reference.into()),
            peak_hold: duration("Peak hold", start.peak_window_s, PEAK_WINDOW_RANGE_S),
            true_peak: EnumParam::new("True peak", start.true_peak.into()),
            clip_at: EnumParam::new("Clipping", start.clip_at.into()),
            listen: EnumParam::new("Listen", start.listen.into()),
            sum_test: EnumParam::new("Sum test", start.sum_test.into()),
            feed_level: level("Feed level", start.feed_level_dbfs, FEED_LEVEL_RANGE_DBFS, " dBFS"),
            feed_offline: switch("Feed in offline render", start.feed_offline),
            reset: press("Reset", move || reset.reset.press()),
            mark: press("Mark", move || mark.mark.press()),
            log: switch("Log", start.log).non_automatable(),
            bypass: switch("Bypass", start.bypass).make_bypass(),
            your_meter: EnumParam::new("Your meter", start.meter_detector.into()),
            your_meter_band: EnumParam::new("Your meter's band", start.meter_band.into()),
            your_meter_offset: level(
                "Your meter's offset",
                start.meter_offset_db,
                METER_OFFSET_RANGE_DB,
                " dB",
            ),
            feeds_play: EnumParam::new("Feeds play", start.feeds_play.into()),
            // In whole seconds, so that two instances are easily set alike.
            loop_pair: duration("Loop: each pair", start.pair_s, PAIR_RANGE_S).with_step_size(1.0),
            marker: Marker::new(status),
            window: Arc::default(),
            meter: Arc::default(),
        }
    }

    /// The value of every parameter, as plain data. A host can set a number that is none; the
    /// default stands in for it. What has just come with a state and replaces the output is off.
    #[must_use]
    pub fn choices(&self) -> Choices {
        let start = Choices::default();
        // Every field by name: a parameter that is no choice has to say so here.
        let Self {
            target_kind,
            target,
            ceiling,
            low_edge,
            high_edge,
            halves,
            rms_window,
            rms_reference,
            peak_hold,
            true_peak,
            clip_at,
            listen,
            sum_test,
            feed_level,
            feed_offline,
            reset: _,
            mark: _,
            log,
            bypass,
            your_meter,
            your_meter_band,
            your_meter_offset,
            feeds_play,
            loop_pair,
            marker,
            window: _,
            meter: _,
        } = self;
        let chosen: Listen = listen.value().into();
        let listen = if marker.held.holds(Replacing::Listen) { Listen::Off } else { chosen };
        let chosen: SumTest = sum_test.value().into();
        let silent = chosen.feed().is_some() && marker.held.holds(Replacing::Feed);
        let sum_test = if silent { SumTest::Off } else { chosen };
        Choices {
            target_kind: target_kind.value().into(),
            target_value: number(target, start.target_value),
            ceiling_db: number(ceiling, start.ceiling_db),
            low_edge_hz: number(low_edge, start.low_edge_hz),
            high_edge_hz: number(high_edge, start.high_edge_hz),
            halves: halves.value().into(),
            rms_window: rms_window.value().into(),
            rms_reference: rms_reference.value().into(),
            peak_window_s: number(peak_hold, start.peak_window_s),
            true_peak: true_peak.value().into(),
            clip_at: clip_at.value().into(),
            listen,
            sum_test,
            feed_level_dbfs: number(feed_level, start.feed_level_dbfs),
            feed_offline: feed_offline.value(),
            meter_detector: your_meter.value().into(),
            meter_band: your_meter_band.value().into(),
            meter_offset_db: number(your_meter_offset, start.meter_offset_db),
            log: log.value(),
            bypass: bypass.value(),
            feeds_play: feeds_play.value().into(),
            pair_s: number(loop_pair, start.pair_s),
        }
    }
}

/// The value of a parameter to two decimals, so that −14.3 stays −14.3 in `f64` and in the log.
fn number(param: &FloatParam, otherwise: f64) -> f64 {
    let value = (f64::from(param.value()) * 100.0).round() / 100.0;
    if value.is_finite() { value } else { otherwise }
}

fn level(name: &str, start: f64, (min, max): (f64, f64), unit: &'static str) -> FloatParam {
    let range = FloatRange::Linear { min: min as f32, max: max as f32 };
    FloatParam::new(name, start as f32, range)
        .with_step_size(0.1)
        .with_unit(unit)
        .with_value_to_string(Arc::new(|value| words::fixed(f64::from(value), 1)))
        .with_string_to_value(read(typed::decibels))
}

/// A frequency that moves evenly in octaves, as far as a power law can.
fn frequency(name: &str, start: f64, (min, max): (f64, f64)) -> FloatParam {
    let range = FloatRange::Skewed {
        min: min as f32,
        max: max as f32,
        factor: FloatRange::skew_factor(-1.0),
    };
    FloatParam::new(name, start as f32, range)
        .with_step_size(1.0)
        .with_unit(" Hz")
        .with_value_to_string(formatters::v2s_f32_rounded(0))
        .with_string_to_value(read(typed::frequency_hz))
}

/// Reads what is typed, or nothing.
type Reader = Arc<dyn Fn(&str) -> Option<f32> + Send + Sync>;

/// A reader as the framework wants it.
fn read(typed: fn(&str) -> Option<f64>) -> Reader {
    Arc::new(move |text| typed(text).map(|value| value as f32))
}

/// Something that is on or off.
fn switch(name: &str, on: bool) -> BoolParam {
    BoolParam::new(name, on).with_string_to_value(Arc::new(typed::switch))
}

/// Something that does what it does when it is switched on.
fn press(name: &str, pressed: impl Fn() + Send + Sync + 'static) -> BoolParam {
    switch(name, false).with_callback(Arc::new(move |on| {
        if on {
            pressed();
        }
    }))
}

fn duration(name: &str, start: f64, (min, max): (f64, f64)) -> FloatParam {
    let range = FloatRange::Skewed {
        min: min as f32,
        max: max as f32,
        factor: FloatRange::skew_factor(-1.0),
    };
    FloatParam::new(name, start as f32, range)
        .with_step_size(0.1)
        .with_unit(" s")
        .with_string_to_value(read(typed::seconds))
}
