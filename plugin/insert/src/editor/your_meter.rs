//! The meter that the user's mixer shows: which it is, what it shows beside what is heard, and where it
//! has to stand for each stretch of the programme.

mod calibrate;
mod readings;

use egui::{Rect, RichText, ScrollArea, Ui, UiBuilder, pos2};
use ledgerline_measure::detector::Detector;

use super::glance::Glance;
use super::look::Look;
use super::panel;
use super::settings_panel::{Scale, one_of, press, slider};
use crate::choices::{Choices, METER_OFFSET_RANGE_DB, MeterBand};
use crate::entries::beside::Suggested;
use crate::sum_test::desk::Identified;

/// Width of the controls, in units, at most, and their share of the drawer.
const CONTROLS_UNITS: f32 = 34.0;
const CONTROLS_SHARE: f32 = 0.5;

/// What readings that were typed elsewhere name.
pub(super) struct Named<'a> {
    /// Beside entries.
    pub(super) by_entries: Option<Suggested>,
    /// In the table of the sum test.
    pub(super) by_test: Option<&'a Identified>,
}

/// Draws the view, and changes what the user changes; `named` is what readings name, and `typed` what is
/// being typed of what the meter shows now.
pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    rect: Rect,
    glance: &Glance,
    choices: &mut Choices,
    named: &Named,
    typed: &mut String,
) {
    let content =
        panel::show(ui, look, rect, "Your meter", "what the mixer's own shows of this bus");
    let width = (content.width() * CONTROLS_SHARE).min(look.units(CONTROLS_UNITS));
    let split = content.left() + width;
    let left = Rect::from_min_max(content.min, pos2(split, content.bottom()));
    let right = Rect::from_min_max(pos2(split + look.units(1.6), content.top()), content.max);
    let mut inside = ui.new_child(UiBuilder::new().max_rect(left).id_salt("your meter"));
    inside.set_clip_rect(left.intersect(inside.clip_rect()));
    ScrollArea::vertical().id_salt("controls of your meter").auto_shrink(false).show(
        &mut inside,
        |ui| {
            controls(ui, look, glance, choices, typed);
            suggestions(ui, look, choices, named);
        },
    );
    match &glance.shown.reading.your_meter {
        Some(read) => readings::show(ui, look, right, glance, read, choices),
        None => panel::empty(ui, look, right, &why_none(choices)),
    }
}

fn controls(ui: &mut Ui, look: &Look, glance: &Glance, choices: &mut Choices, typed: &mut String) {
    use Detector::{Momentary, Needle, Programme1, Programme2, Rms, SamplePeak, TruePeak};
    let chosen = &mut choices.meter_detector;
    let peaks = [(None, "off"), (Some(SamplePeak), "sample peak"), (Some(TruePeak), "true peak")];
    one_of(ui, look, "Reads", &peaks, chosen);
    let programme = [(Some(Programme1), "Type I (5 ms)"), (Some(Programme2), "Type II (10 ms)")];
    one_of(ui, look, "programme", &programme, chosen);
    let averages = [(Some(Rms), "RMS"), (Some(Needle), "needle"), (Some(Momentary), "momentary")];
    one_of(ui, look, "average", &averages, chosen);
    let bands = [(MeterBand::Whole, "whole"), (MeterBand::Audible, "audible")];
    one_of(ui, look, "Band", &bands, &mut choices.meter_band);
    slider(
        ui,
        look,
        "Offset",
        &mut choices.meter_offset_db,
        &Scale { range: METER_OFFSET_RANGE_DB, unit: "dB", decimals: 1, logarithmic: false },
    );
    if let Some(read) = &glance.shown.reading.your_meter {
        calibrate::show(ui, look, read, choices, typed);
        let words = "To calibrate, play something steady, read your meter, and type what it shows.";
        ui.label(RichText::new(words).font(look.words(0.94)).color(look.palette.quiet));
    }
}

/// What readings that were typed elsewhere name, to be taken with one press.
fn suggestions(ui: &mut Ui, look: &Look, choices: &mut Choices, named: &Named) {
    let by_test = named.by_test.and_then(|test| Suggested::by(test.result.as_ref().ok()?));
    for (from, suggested) in [("Entries", named.by_entries), ("Sum test", by_test)] {
        let Some(Suggested { kind, offset_db, of }) = suggested else { continue };
        let which = match of {
            1 => String::new(),
            of => format!(", the likeliest of {of}"),
        };
        if press(ui, look, &format!("{from}: take {}{which}", kind.short())) {
            choices.meter_detector = Some(kind.detector);
            choices.meter_band = if kind.audible { MeterBand::Audible } else { MeterBand::Whole };
            if let Some(offset_db) = offset_db {
                choices.meter_offset_db = within_range(offset_db);
            }
        }
    }
}

/// The nearest offset that the parameter can have: to a tenth.
fn within_range(offset_db: f64) -> f64 {
    let (least, most) = METER_OFFSET_RANGE_DB;
    (offset_db.clamp(least, most) * 10.0).round() / 10.0
}

/// Why there is nothing to read.
fn why_none(choices: &Choices) -> String {
    match choices.meter_detector {
        Some(_) => "It is read as soon as sound comes.".to_owned(),
        None => {
            "Choose the kind of meter that your mixer shows. If you do not know it, type what it \
                 showed under Entries or in the sum test: the readings name it."
                .to_owned()
        }
    }
}
