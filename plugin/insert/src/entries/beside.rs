//! Which kind of meter the user's own is, from what it showed of entries: what every kind of meter
//! shows of them was measured beside it.

use std::collections::BTreeMap;

use ledgerline_measure::detector::MeterKind;
use ledgerline_measure::sum_test::identification::{LEAST_BESIDE, usual_resolution_db};
use ledgerline_measure::sum_test::{BesideReading, Identification, identify_beside};

use super::board::Listed;
use crate::typed;

/// What was typed beside an entry.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BesideText {
    /// As it was typed.
    pub text: String,
    /// Where the entry begins, in seconds since the first frame: numbers begin anew with a bus.
    pub start_s: f64,
}

impl BesideText {
    /// The reading, in dB, if it is one.
    #[must_use]
    pub fn shown_db(&self) -> Option<f64> {
        typed::decibels(&self.text)
    }

    /// Whether something is typed that is no reading.
    #[must_use]
    pub fn is_bad(&self) -> bool {
        !self.text.trim().is_empty() && self.shown_db().is_none()
    }
}

/// A kind of meter that readings name.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Suggested {
    /// The likeliest.
    pub kind: MeterKind,
    /// What its scale adds to dBFS, in dB, where the readings tell.
    pub offset_db: Option<f64>,
    /// Of how many kinds that are not excluded.
    pub of: usize,
}

impl Suggested {
    /// The likeliest of what is not excluded; none where everything is.
    #[must_use]
    pub fn by(meter: &Identification) -> Option<Self> {
        let kind = *meter.possible.first()?;
        Some(Self { kind, offset_db: None, of: meter.possible.len() })
    }
}

/// What a set of readings says.
#[derive(Debug, Clone, PartialEq)]
struct Answer {
    words: String,
    suggested: Option<Suggested>,
}

/// What was typed, by the entries' numbers, and what it says.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Beside {
    texts: BTreeMap<u64, BesideText>,
    /// The readings that were last asked about, and the answer.
    answered: Option<(Vec<BesideReading>, Answer)>,
}

impl Beside {
    /// What is typed beside an entry, to be changed.
    pub fn text(&mut self, entry: &Listed) -> &mut BesideText {
        let start_s = entry.start_s;
        let text = self.texts.entry(entry.number).or_default();
        if text.start_s != start_s {
            *text = BesideText { text: String::new(), start_s };
        }
        text
    }

    /// Lets go of what was typed beside entries that are there no more.
    pub fn follow(&mut self, ended: &[Listed]) {
        let is_there = |number: u64, start_s: f64| {
            ended.iter().any(|entry| entry.number == number && entry.start_s == start_s)
        };
        self.texts.retain(|number, text| !text.text.is_empty() && is_there(*number, text.start_s));
    }

    /// What the readings say; nothing as long as there is none.
    pub fn answer(&mut self, ended: &[Listed]) -> Option<&str> {
        let reading = |entry: &Listed| {
            let shown_db = self.texts.get(&entry.number)?.shown_db()?;
            let levels = [entry.levels.whole.bus.0, entry.levels.audible.bus.0];
            Some(BesideReading { entry: entry.number, levels, shown_db })
        };
        let readings: Vec<BesideReading> = ended.iter().filter_map(reading).collect();
        if readings.is_empty() {
            self.answered = None;
        } else if self.answered.as_ref().is_none_or(|(asked, _)| *asked != readings) {
            let answer = answer(&readings);
            self.answered = Some((readings, answer));
        }
        self.answered.as_ref().map(|(_, answer)| answer.words.as_str())
    }

    /// The kind that they name.
    #[must_use]
    pub fn suggested(&self) -> Option<Suggested> {
        self.answered.as_ref().and_then(|(_, answer)| answer.suggested)
    }
}

fn answer(readings: &[BesideReading]) -> Answer {
    let said = |words: String| Answer { words, suggested: None };
    if readings.len() < LEAST_BESIDE {
        return said(
            "Type what your meter showed of another entry too: two of different sound begin to \
             tell which kind of meter it is."
                .into(),
        );
    }
    let resolution_db = usual_resolution_db(readings.iter().map(|reading| reading.shown_db));
    match identify_beside(readings, resolution_db) {
        Ok(meter) => {
            let likeliest =
                |of: &Suggested| meter.models.iter().find(|candidate| candidate.model() == of.kind);
            let suggested = Suggested::by(&meter).map(|of| Suggested {
                offset_db: likeliest(&of).map(|candidate| candidate.offset_db),
                ..of
            });
            Answer { words: meter.sentence, suggested }
        }
        Err(error) => said(format!("The meter cannot be told: {error}.")),
    }
}
