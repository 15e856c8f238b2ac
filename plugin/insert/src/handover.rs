//! What crosses between the audio thread and the editor, wait-free: snapshots of plain data one
//! way, presses of buttons the other.

use std::sync::atomic::{AtomicU32, Ordering};

use ledgerline_measure::reading::READING_SCHEMA;
use ledgerline_measure::{Meter, Reading, Settings, Spectrum, View, YourMeterReading};
use triple_buffer::{Input, Output, triple_buffer};

use crate::choices::Choices;

/// Everything the screen shows of one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Snapshot {
    /// All readings.
    pub reading: Reading,
    /// The spectrum to draw.
    pub spectrum: Spectrum,
}

impl Snapshot {
    /// What a meter reads at this moment.
    #[must_use]
    pub fn of(meter: &Meter, choices: &Choices) -> Self {
        Self { reading: meter.reading(&choices.view()), spectrum: meter.spectrum() }
    }

    /// The same moment for the target, the ceiling and the scale of the user's meter that are chosen now; `None` where it is that
    /// already. While the host does not process, nobody else would show the change.
    #[must_use]
    pub fn aimed_at(&self, choices: &Choices) -> Option<Self> {
        let (view, room) = (choices.view(), &self.reading.room);
        let measured = self.reading.sample_rate_hz > 0.0;
        let is_yours = |of: YourMeterReading| Some(of.meter) == view.your_meter;
        let same = (room.target, room.ceiling_db) == (view.target, view.ceiling_db)
            && self.reading.your_meter.is_none_or(is_yours);
        let edges = choices.settings().edges;
        (measured && !same)
            .then(|| Self { reading: self.reading.aimed_at(&view, edges), spectrum: self.spectrum })
    }
}

impl Default for Snapshot {
    /// Nothing measured yet, at no sample rate.
    fn default() -> Self {
        Self { reading: nothing_measured(), spectrum: Spectrum::default() }
    }
}

/// The audio thread's half.
pub struct Publisher(Input<Snapshot>);

/// The editor's half.
pub struct Subscriber {
    output: Output<Snapshot>,
    /// What to show instead of a snapshot that was cleared.
    empty: Snapshot,
    cleared: bool,
}

/// Makes both halves. Allocates.
#[must_use]
pub fn handover() -> (Publisher, Subscriber) {
    let (input, output) = triple_buffer(&Snapshot::default());
    (Publisher(input), Subscriber { output, empty: Snapshot::default(), cleared: false })
}

impl Publisher {
    /// Hands over a snapshot. Never waits; what the editor has not read yet is replaced.
    pub fn publish(&mut self, snapshot: Snapshot) {
        self.0.write(snapshot);
    }
}

impl Subscriber {
    /// The latest snapshot. Never waits.
    pub fn latest(&mut self) -> &Snapshot {
        if self.output.update() {
            self.cleared = false;
        }
        if self.cleared { &self.empty } else { self.output.output_buffer() }
    }

    /// Shows nothing until the next snapshot arrives: while the host does not process, nobody else
    /// would clear what is shown.
    pub fn clear(&mut self) {
        self.cleared = true;
    }

    /// Shows again what was cleared, unless another snapshot has arrived since.
    pub fn restore(&mut self) {
        self.cleared = false;
    }
}

/// For how long a reset can be undone, in seconds.
pub const UNDO_S: f64 = 10.0;

/// The buttons that the audio thread answers, and one that it presses.
#[derive(Debug, Default)]
pub struct Buttons {
    /// Clears all readings.
    pub reset: Button,
    /// Takes the latest reset back.
    pub undo_reset: Button,
    /// Pressed by the audio thread where readings begin afresh for another reason: no reset from
    /// before can be undone.
    pub afresh: Button,
    /// Begins another entry.
    pub mark: Button,
}

/// A button: pressed on any thread, noticed on another.
#[derive(Debug, Default)]
pub struct Button(AtomicU32);

impl Button {
    /// Presses it. Never waits.
    pub fn press(&self) {
        self.0.fetch_add(1, Ordering::Release);
    }

    /// How often the button has been pressed; what counts is whether that changes.
    #[must_use]
    pub fn presses(&self) -> u32 {
        self.0.load(Ordering::Acquire)
    }
}

fn nothing_measured() -> Reading {
    let (settings, view) = (Settings::default(), View::default());
    Reading {
        your_meter: None,
        schema: READING_SCHEMA,
        time_s: 0.0,
        sample_rate_hz: 0.0,
        halves: settings.halves,
        whole: Default::default(),
        audible: Default::default(),
        late_copy: None,
        damage: Default::default(),
        hidden: Default::default(),
        room: ledgerline_measure::reading::Room {
            ceiling_db: view.ceiling_db,
            room_db: Default::default(),
            true_room_db: Default::default(),
            withheld_db: Default::default(),
            target: view.target,
            lift_db: Default::default(),
            lift_allowed_db: Default::default(),
        },
        causes: Default::default(),
        fold_down_dbtp: Default::default(),
        lift_now_db: Default::default(),
        decorrelation_ms: Default::default(),
        limiter: Default::default(),
        findings: Default::default(),
        windows: Default::default(),
    }
}
