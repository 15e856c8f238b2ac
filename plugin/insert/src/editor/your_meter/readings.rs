//! What the user's own meter shows: now, since reset, and of each entry, with where it stands once the
//! programme is at its target.

use egui::{Align2, Rect, Ui, pos2};
use ledgerline_measure::{Level, YourMeterReading, words};

use crate::choices::Choices;
use crate::editor::glance::Glance;
use crate::editor::look::Look;
use crate::editor::marks::{fitted, fitting};
use crate::editor::{numbers, panel};
use crate::entries::board::Listed;

/// Height of a row, in units.
const ROW_UNITS: f32 = 1.55;
/// Width of a column of numbers, in units.
const COLUMN_UNITS: f32 = 7.6;
/// Sizes of the sentence, in units.
const SIZES: [f32; 3] = [1.15, 1.05, 1.0];

/// Entries differ from here on in what the meter reads for what is heard, in dB.
const DIFFERS_DB: f64 = 1.0;

/// Draws them.
pub(super) fn show(
    ui: &Ui,
    look: &Look,
    rect: Rect,
    glance: &Glance,
    read: &YourMeterReading,
    choices: &Choices,
) {
    let mut table = Table { ui, look, rect, top: rect.top() };
    let reading = &glance.shown.reading;
    let target = reading.room.target;
    let at_target =
        target.map_or("no target".to_owned(), |target| format!("at {}", target.words()));
    table.row(["", "it shows", "audible RMS", &at_target], true);
    table.levels("now", [read.shows_db, read.as_loud_as_dbfs(), Level::NONE]);
    let rms_dbfs = reading.audible.bus.rms_dbfs;
    table.levels("highest", [read.highest_db, rms_dbfs, read.highest_at_target_db]);
    table.levels("half of the time", [read.usual_db, rms_dbfs, read.usual_at_target_db]);
    let listed = glance.entries.under_way.iter().chain(glance.entries.ended.iter().rev());
    let entries: Vec<(u64, YourMeterReading, Level)> = listed
        .filter_map(|listed| {
            let of = yours(listed, read, choices)?;
            Some((listed.number, of, listed.reading.audible.bus.rms_dbfs))
        })
        .collect();
    // Two lines are left for the sentence.
    let rows = ((rect.bottom() - table.top) / look.units(ROW_UNITS)) as usize;
    for (number, of, rms_dbfs) in entries.iter().take(rows.saturating_sub(2)) {
        let name = format!("entry {number}, highest");
        table.levels(&name, [of.highest_db, *rms_dbfs, of.highest_at_target_db]);
    }
    let place = Rect::from_min_max(pos2(rect.left(), table.top + look.units(0.3)), rect.max);
    let mut sentence = read.sentence();
    if let [latest, before, ..] = entries.as_slice()
        && let Some(said) = moved(latest, before)
    {
        sentence = format!("{sentence} {said}");
    }
    let galley = fitting(ui.painter(), look, &SIZES, place.size(), &sentence);
    if galley.size().y <= place.height() {
        ui.painter().galley(place.min, galley, look.palette.text);
        panel::describe(ui, place, "your meter in words", || sentence.clone());
    }
}

/// Whether the meter reads one entry higher than the one before, for what is audible.
fn moved(
    latest: &(u64, YourMeterReading, Level),
    before: &(u64, YourMeterReading, Level),
) -> Option<String> {
    let over = |(_, of, rms_dbfs): &(u64, YourMeterReading, Level)| {
        Some(of.usual_db.finite()? - of.meter.offset_db - rms_dbfs.finite()?)
    };
    let by_db = over(latest)? - over(before)?;
    (by_db.abs() >= DIFFERS_DB).then(|| {
        format!(
            "Entry {} reads {} {} over its audible RMS than entry {}.",
            latest.0,
            words::distance(by_db),
            if by_db > 0.0 { "higher" } else { "lower" },
            before.0
        )
    })
}

/// What the meter showed of an entry, where it is the one that ran then.
fn yours(listed: &Listed, read: &YourMeterReading, choices: &Choices) -> Option<YourMeterReading> {
    let of = listed.reading.your_meter.filter(|of| of.meter.kind == read.meter.kind)?;
    let aimed = listed.reading.aimed_at(&choices.view(), choices.edges());
    Some(aimed.your_meter.unwrap_or(of))
}

/// Rows of a name and three numbers.
struct Table<'a> {
    ui: &'a Ui,
    look: &'a Look,
    rect: Rect,
    top: f32,
}

impl Table<'_> {
    fn levels(&mut self, name: &str, levels: [Level; 3]) {
        let [one, two, three] = levels.map(numbers::level);
        self.row([name, &one, &two, &three], false);
    }

    fn row(&mut self, [name, cells @ ..]: [&str; 4], is_head: bool) {
        let Self { ui, look, rect, top } = self;
        let row = look.units(ROW_UNITS);
        if *top + row > rect.bottom() {
            return;
        }
        let place = Rect::from_x_y_ranges(rect.x_range(), *top..=*top + row);
        *top += row;
        let (y, palette) = (place.center().y, look.palette);
        let column = look.units(COLUMN_UNITS).min(rect.width() * 0.22);
        let names = rect.width() - 3.0 * column;
        let at = pos2(rect.left(), y);
        fitted(ui.painter(), at, Align2::LEFT_CENTER, names, name, look.words(1.0), palette.quiet);
        for (index, text) in cells.into_iter().enumerate() {
            let (font, colour) = match is_head {
                true => (look.words(1.0), palette.quiet),
                false => (look.digits(1.1), palette.text),
            };
            let at = pos2(rect.right() - column * (2 - index) as f32, y);
            let space = column - look.units(0.4);
            fitted(ui.painter(), at, Align2::RIGHT_CENTER, space, text, font, colour);
        }
        if !is_head {
            panel::describe(ui, place, &format!("yours {name}"), || {
                format!("{name}: {}", cells.join(", "))
            });
        }
    }
}
