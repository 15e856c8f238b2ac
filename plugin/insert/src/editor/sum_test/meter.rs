//! Which kind of meter the mixer has: how finely it was read, the answer in a sentence, and the
//! likeliest kinds with what speaks for each.

use egui::{Align2, Rect, Stroke, Ui, UiBuilder, pos2};
use ledgerline_measure::sum_test::Identification;
use ledgerline_measure::sum_test::identification::Candidate;
use ledgerline_measure::words;

use super::fields::Typed;
use crate::editor::look::Look;
use crate::editor::marks::{fitted, fitting};
use crate::editor::settings_panel::{one_of, press};
use crate::editor::{numbers, panel};
use crate::sum_test::desk::Identified;
use crate::sum_test::entries::{Entries, PLAYED, RESOLUTIONS_DB};

/// How many kinds are listed.
const MOST_LISTED: usize = 4;
/// Height of a row of the list, in units.
const ROW_UNITS: f32 = 1.25;
/// Height of the remark under the list, in units.
const REMARK_UNITS: f32 = 2.2;
/// Right edge of the misfits, in units from the right.
const MISFIT_UNITS: f32 = 4.6;
/// Sizes that sentences may take, in units.
const SIZES: [f32; 4] = [1.04, 0.98, 0.92, 0.84];

/// Draws the panel and changes what the user changes.
pub fn show(
    ui: &mut Ui,
    look: &Look,
    rect: Rect,
    identified: Option<&Identified>,
    entries: &mut Entries,
    typed: &mut Typed,
) {
    let content = panel::show(ui, look, rect, "The mixer's own meter", "");
    let mut inside = ui.new_child(UiBuilder::new().max_rect(content).id_salt("meter"));
    let names = RESOLUTIONS_DB.map(|db| format!("{} dB", words::plain(db)));
    let options: Vec<_> = RESOLUTIONS_DB.into_iter().zip(names.iter().map(|n| &**n)).collect();
    one_of(&mut inside, look, "Read to", &options, &mut entries.resolution_db);
    one_of(&mut inside, look, "Played", &PLAYED, &mut entries.played);
    if typed.any() && press(&mut inside, look, "Clear the readings") {
        typed.clear(entries);
    }
    let top = inside.min_rect().bottom() + look.units(0.4);
    let mut rest = Rect::from_min_max(pos2(content.left(), top), content.max);
    ignored(ui, look, &mut rest, &typed.bad());
    match answer(entries, identified) {
        Answer::Words(words) => {
            sentence(ui, look, rest, &words);
        }
        Answer::Meter(meter) => {
            let listed = meter.models.len().min(MOST_LISTED);
            let list = look.units(ROW_UNITS * (listed + 1) as f32 + REMARK_UNITS + 0.4);
            let words = Rect::from_min_max(rest.min, pos2(rest.right(), rest.bottom() - list));
            let bottom = sentence(ui, look, words, &meter.sentence) + look.units(0.4);
            let place = Rect::from_min_max(pos2(rest.left(), bottom), rest.max);
            ranking(ui, look, place, meter);
        }
    }
}

/// What there is to say.
enum Answer<'a> {
    /// Why there is no meter yet.
    Words(String),
    /// A meter.
    Meter(&'a Identification),
}

fn answer<'a>(entries: &Entries, identified: Option<&'a Identified>) -> Answer<'a> {
    match (entries.missing(), identified.map(|identified| &identified.result)) {
        (3, _) => Answer::Words(
            "Type in the table what the mixer's own meter showed in each step: on bursts the \
             highest, else where it settled, or what it held. Any three steps will do; more tell \
             more. Played says whether it was the sum test, noises of your own, or what kind of \
             noise these or the loop's were."
                .to_owned(),
        ),
        (missing @ 1.., _) => Answer::Words(format!(
            "{} needed before anything can be told.",
            words::counted(missing as u64, "more reading is", "more readings are")
        )),
        (0, None) => Answer::Words("Comparing with what each kind of meter shows.".to_owned()),
        (0, Some(Ok(meter))) => Answer::Meter(meter),
        (0, Some(Err(error))) => Answer::Words(format!("The meter cannot be told: {error}.")),
    }
}

/// Says which entries do not count, and takes the space for that.
fn ignored(ui: &Ui, look: &Look, rest: &mut Rect, bad: &[usize]) {
    let words = match bad {
        [] => return,
        [only] => format!("Ignored, since it is no number of dB: step {only}."),
        _ => {
            let steps: Vec<String> = bad.iter().map(usize::to_string).collect();
            format!("Ignored, since they are no numbers of dB: steps {}.", words::list(&steps))
        }
    };
    let colour = look.palette.caution;
    let galley = ui.painter().layout(words.clone(), look.words(0.94), colour, rest.width());
    let place = Rect::from_min_size(rest.min, galley.size());
    ui.painter().galley(rest.min, galley, colour);
    panel::describe(ui, place, "ignored", || words.clone());
    rest.min.y = place.bottom() + look.units(0.4);
}

/// Draws a sentence in the largest size that fits, and returns where it ends.
fn sentence(ui: &Ui, look: &Look, rect: Rect, words: &str) -> f32 {
    let galley = fitting(ui.painter(), look, &SIZES, rect.size(), words);
    let place = Rect::from_min_size(rect.min, galley.size());
    ui.painter().galley(rect.min, galley, look.palette.text);
    panel::describe(ui, place, "meter", || words.to_owned());
    place.bottom()
}

/// The likeliest kinds, and which of them the readings do not part.
fn ranking(ui: &Ui, look: &Look, rect: Rect, meter: &Identification) {
    let (painter, palette) = (ui.painter(), look.palette);
    let row = look.units(ROW_UNITS);
    let (misfit, right) = (rect.right() - look.units(MISFIT_UNITS), rect.right());
    let y = rect.top() + row * 0.5;
    let heads = [
        (rect.left() + look.units(0.7), Align2::LEFT_CENTER, "kind of meter"),
        (misfit, Align2::RIGHT_CENTER, "misfit, dB"),
        (right, Align2::RIGHT_CENTER, "likely"),
    ];
    for (x, anchor, head) in heads {
        painter.text(pos2(x, y), anchor, head, look.words(0.84), palette.quiet);
    }
    let together = meter.inseparable.first().map_or(&[][..], Vec::as_slice);
    let listed = meter.models.len().min(MOST_LISTED);
    for (index, candidate) in meter.models.iter().take(listed).enumerate() {
        let top = rect.top() + row * (index + 1) as f32;
        let place = Rect::from_x_y_ranges(rect.x_range(), top..=top + row);
        line(ui, look, place, misfit, index, candidate, together.contains(&candidate.model()));
    }
    let top = rect.top() + row * (listed + 1) as f32 + look.units(0.2);
    if !together.is_empty() {
        let kinds = together.len();
        let words =
            format!("Line at the left: {kinds} kinds that these readings do not tell apart.");
        let place = Rect::from_min_max(pos2(rect.left(), top), rect.max);
        let galley = fitting(painter, look, &[0.88, 0.84], place.size(), &words);
        painter.galley(place.min, galley, palette.quiet);
        panel::describe(ui, place, "not told apart", || words.clone());
    }
}

fn line(
    ui: &Ui,
    look: &Look,
    place: Rect,
    misfit: f32,
    index: usize,
    candidate: &Candidate,
    together: bool,
) {
    let (painter, palette) = (ui.painter(), look.palette);
    let y = place.center().y;
    if together {
        let stroke = Stroke::new(look.units(0.2).max(2.0), palette.axis);
        painter.vline(place.left() + look.units(0.2), place.y_range(), stroke);
    }
    let colour = if index == 0 { palette.text } else { palette.quiet };
    let name = candidate.model().short();
    let at = pos2(place.left() + look.units(0.7), y);
    let width = misfit - look.units(2.6) - at.x;
    fitted(painter, at, Align2::LEFT_CENTER, width, &name, look.words(0.92), colour);
    let share = numbers::share(Some(candidate.probability));
    let apart = words::fixed(candidate.misfit_db, 2);
    for (x, text) in [(misfit, &apart), (place.right(), &share)] {
        painter.text(pos2(x, y), Align2::RIGHT_CENTER, text, look.digits(0.88), colour);
    }
    let rank = index + 1;
    panel::describe(ui, place, &format!("kind {rank}"), || {
        format!("{rank}. {name}: misfit {apart} dB, likely {share}")
    });
}
