//! The meter that the user's mixer shows: which it is, what it shows beside what is heard, and where it
//! has to stand for each stretch of the programme.

mod calibrate;
mod readings;

use egui::{Rect, RichText, ScrollArea, Ui, UiBuilder, pos2};
use ledgerline_measure::detector::Detector;

use super::glance::Glance;
use super::look::Look;
use super::panel;
use super::settings_panel::{Scale, one_of, slider};
use crate::choices::{Choices, METER_OFFSET_RANGE_DB, MeterBand};

/// Width of the controls, in units, at most, and their share of the drawer.
const CONTROLS_UNITS: f32 = 34.0;
const CONTROLS_SHARE: f32 = 0.5;

/// Draws the view, and changes what the user changes; `typed` is what is being typed of what the meter
/// shows now.
pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    rect: Rect,
    glance: &Glance,
    choices: &mut Choices,
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
    ScrollArea::vertical()
        .id_salt("controls of your meter")
        .auto_shrink(false)
        .show(&mut inside, |ui| controls(ui, look, glance, choices, typed));
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
