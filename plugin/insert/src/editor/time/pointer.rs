//! What is pointed at: a line through the lanes, and the levels there in words.

use egui::{Rect, Response, Stroke, Ui};
use ledgerline_measure::{Level, words};

use super::scale::Scale;
use crate::editor::glance::{Glance, Past};
use crate::editor::look::Look;
use crate::history::Column;

/// Draws the lines, and says what is pointed at, in versions that get shorter.
pub(super) fn at(
    ui: &Ui,
    look: &Look,
    response: &Response,
    lanes: Rect,
    scale: &Scale,
    glance: &Glance,
    past: Option<&Past>,
) -> Option<Vec<String>> {
    if let Some(past) = past {
        let stroke = Stroke::new(look.units(0.2).max(2.0), look.palette.text);
        let x = scale.x(past.at_s);
        if lanes.x_range().contains(x) {
            ui.painter().vline(x, lanes.y_range(), stroke);
        }
    }
    let x = response.hover_pos()?.x;
    let stroke = Stroke::new(look.hairline(), look.palette.text);
    ui.painter().vline(x, lanes.y_range(), stroke);
    let at_s = scale.at_s(x);
    let (mut columns, _) = glance.columns().of(scale.span);
    let column = columns.find(|column| (column.start_s..column.end_s).contains(&at_s))?;
    let offset_db = glance.shown.reading.your_meter.map(|read| read.meter.offset_db);
    Some(in_words(column, at_s, offset_db))
}

/// The levels of a column, in versions that get shorter.
fn in_words(column: &Column, at_s: f64, offset_db: Option<f64>) -> Vec<String> {
    let level = |level: f32| words::level(Level::from_db(f64::from(level)), 1);
    let [whole, audible] = column.true_peak_dbtp.map(level);
    let [loudness, audible_loudness] = column.short_term_lufs.map(level);
    let sample = level(column.sample_peak_dbfs);
    let at = words::moment(at_s.max(0.0), 1);
    let host = column.host_s.map(|host_s| words::moment(host_s.max(0.0), 1));
    let host = host.map_or(String::new(), |host| format!(" (host {host})"));
    let peaks = format!("{whole} dBTP, audible {audible}");
    let loudness = format!("{loudness} LUFS, audible {audible_loudness}");
    let yours = offset_db.filter(|_| !column.your_meter_db.is_nan()).map(|offset_db| {
        let shown = Level::from_db(f64::from(column.your_meter_db) + offset_db);
        format!("   ·   your meter {}", words::level(shown, 1))
    });
    let yours = yours.unwrap_or_default();
    vec![
        format!("{at}{host}   {peaks}   ·   sample {sample} dBFS   ·   {loudness}{yours}"),
        format!("{at}{host}   {peaks}   ·   {loudness}{yours}"),
        format!("{at}   {peaks}{yours}"),
        format!("{at}{host}   {peaks}   ·   sample {sample} dBFS   ·   {loudness}"),
        format!("{at}{host}   {peaks}   ·   {loudness}"),
        format!("{at}   {peaks}   ·   {loudness}"),
        format!("{at}   {peaks}"),
        at,
    ]
}
