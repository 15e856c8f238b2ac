//! The account: the room that a sample-peak meter shows, the signed price of each cause, and the audible room as
//! their sum; and apart from it what folding down would do.

use egui::accesskit::Role;
use egui::{Align2, Button, Color32, Rect, RichText, Stroke, Ui, WidgetInfo, pos2, vec2};
use ledgerline_measure::causes::CauseCode;
use ledgerline_measure::verdict::thresholds::NOTHING_DB;
use ledgerline_measure::{Level, Reading, words};

use super::look::Look;
use super::marks::fitted;
use super::{numbers, panel};
use crate::choices::{Choices, Listen};

/// Height of a row, in units, at most.
const ROW_UNITS: f32 = 2.0;
/// Height of a second line, against a row's.
const MORE_SHARE: f32 = 0.72;
/// Width of the column of numbers, and of the control beside it, in units.
const NUMBER_UNITS: f32 = 4.0;
const LISTEN_UNITS: f32 = 4.2;
/// A price this large has a bar as wide as its row, in decibels.
const FULL_BAR_DB: f64 = 12.0;

/// A row.
struct Row {
    name: String,
    /// What is more to say of it, in a line of its own.
    more: String,
    /// What it costs, and what to do, for whoever points at it.
    explanation: String,
    number: String,
    colour: Color32,
    /// The price that its bar shows.
    price_db: Option<f64>,
    is_total: bool,
    listens: bool,
}

/// Draws the account and changes what is listened to.
pub(super) fn show(ui: &mut Ui, look: &Look, rect: Rect, reading: &Reading, choices: &mut Choices) {
    let content = panel::show(ui, look, rect, "Room, dB", "");
    let rows = rows(look, reading);
    let fold = fold_down(reading);
    let more = rows.iter().filter(|row| !row.more.is_empty()).count();
    let lines = rows.len() + usize::from(fold.is_some());
    let all = lines as f32 + more as f32 * MORE_SHARE;
    let height = (content.height() / all).min(look.units(ROW_UNITS));
    let mut top = content.top();
    for row in &rows {
        let place = Rect::from_x_y_ranges(content.x_range(), top..=top + height);
        draw(ui, look, place, row, choices);
        top += height;
        if !row.more.is_empty() {
            let at = pos2(content.left() + look.units(0.8), top + height * MORE_SHARE * 0.42);
            let (font, colour) = (look.words(1.0), look.palette.quiet);
            let width = content.right() - at.x;
            fitted(ui.painter(), at, Align2::LEFT_CENTER, width, &row.more, font, colour);
            top += height * MORE_SHARE;
        }
    }
    if let Some(fold) = fold {
        let y = top + height * 0.6;
        let at = pos2(content.left(), y);
        let (font, colour) = (look.words(1.0), look.palette.quiet);
        fitted(ui.painter(), at, Align2::LEFT_CENTER, content.width(), &fold, font, colour);
        let place = Rect::from_x_y_ranges(content.x_range(), y - height / 2.0..=y + height / 2.0);
        panel::describe(ui, place, "fold-down", || fold.clone());
    }
}

fn rows(look: &Look, reading: &Reading) -> Vec<Row> {
    let (palette, room) = (look.palette, &reading.room);
    let end = |name: &str, explanation: &str, level: Level, colour, is_total| Row {
        name: name.into(),
        more: String::new(),
        explanation: explanation.into(),
        number: numbers::level(level),
        colour,
        price_db: None,
        is_total,
        listens: false,
    };
    let meters = "Ceiling less the largest sample";
    let mut rows = vec![end("sample-peak room", meters, room.room_db, palette.whole, false)];
    rows.extend(reading.causes.iter().map(|cause| {
        let price = Level::from_db(cause.price_db);
        let since = cause.since_s();
        let since = since.map(|since_s| format!("since {}", words::moment(since_s, 0)));
        let word = cause.word();
        let (name, tone) = word.split_once(", ").unwrap_or((&word, ""));
        let tone = Some(tone.to_owned()).filter(|tone| !tone.is_empty());
        let more: Vec<String> = tone.into_iter().chain(since).collect();
        Row {
            name: name.to_owned(),
            more: more.join(", "),
            explanation: cause.sentence(),
            number: numbers::difference(price),
            colour: palette.hidden,
            price_db: price.finite(),
            is_total: false,
            listens: cause.code == CauseCode::Above,
        }
    }));
    let audible = "Ceiling less the true peak of the audible band";
    rows.push(end("audible room", audible, room.true_room_db, palette.audible, true));
    rows
}

fn draw(ui: &mut Ui, look: &Look, place: Rect, row: &Row, choices: &mut Choices) {
    let palette = look.palette;
    let right = place.right() - look.units(LISTEN_UNITS);
    let y = place.center().y;
    if row.is_total {
        let line = Stroke::new(look.hairline(), palette.axis);
        ui.painter().hline(place.left()..=right, place.top() + look.hairline(), line);
    }
    if let Some(db) = row.price_db.filter(|db| db.abs() >= NOTHING_DB) {
        // Under the digits, not behind them.
        let length = (db.abs() / FULL_BAR_DB).min(1.0) as f32 * (right - place.left());
        let size = vec2(length, look.units(0.16).max(1.5));
        let bar = Rect::from_min_size(pos2(right - length, place.bottom() - size.y), size);
        ui.painter().rect_filled(bar, 0.0, palette.hidden);
    }
    let size = if row.is_total { 1.15 } else { 1.05 };
    let width = right - place.left() - look.units(NUMBER_UNITS);
    let at = pos2(place.left(), y);
    let words = look.words(size);
    fitted(ui.painter(), at, Align2::LEFT_CENTER, width, &row.name, words, row.colour);
    let at = pos2(right - look.units(0.2), y);
    ui.painter().text(at, Align2::RIGHT_CENTER, &row.number, look.digits(size), row.colour);
    let spoken = format!("{} {} dB {}", row.name, row.number, row.more).trim_end().to_owned();
    let words = Rect::from_x_y_ranges(place.left()..=right, place.y_range());
    panel::describe(ui, words, &row.name, || spoken.clone()).on_hover_text(&row.explanation);
    if row.listens {
        let on = choices.listen == Listen::Hidden;
        let button = Button::new(RichText::new("listen").font(look.words(1.0)))
            .selected(on)
            .stroke(Stroke::new(look.hairline(), palette.axis));
        let size = vec2(look.units(LISTEN_UNITS - 0.4), place.height() - look.units(0.15));
        let at = Rect::from_min_size(pos2(right + look.units(0.4), y - size.y / 2.0), size);
        let response = ui.put(at, button.min_size(size));
        let label = "Listen to what is hidden";
        response.widget_info(|| WidgetInfo::selected(Role::Button, true, on, label));
        panel::focus_ring(ui, look, &response);
        let tip =
            "Replaces the output by what is hidden, shifted down. Turn the monitors down first.";
        if response.on_hover_text(tip).clicked() {
            choices.listen = if on { Listen::Off } else { Listen::Hidden };
        }
    }
}

/// What folding down to mono would do, where it would go over the ceiling.
fn fold_down(reading: &Reading) -> Option<String> {
    let peak_dbtp = reading.fold_down_dbtp.finite()?;
    let over_db = peak_dbtp - reading.room.ceiling_db;
    (over_db >= NOTHING_DB).then(|| {
        format!(
            "Folded to mono: {} dBTP, {} dB over",
            words::signed(peak_dbtp, 1),
            words::fixed(over_db, 1)
        )
    })
}
