//! The course of a bus over time: peaks and loudness in lanes of one chart, with their table.

use ledgerline_measure::{HistoryRow, Level, Target, TargetKind, words};
use maud::{Markup, html};

use crate::chart::history::{Chart, Curve, Get, Lane, Limit, step_s};
use crate::chart::{Figure, Ink, Mark, TimeAxis, Words};
use crate::numbers;

/// Most rows of a table of the history.
const MOST_ROWS: usize = 120;

/// The course of a bus, and what it is held against.
pub(crate) struct Course<'a> {
    /// The rows, oldest first; one without levels is a gap. Their times are places on the axis.
    pub rows: &'a [HistoryRow],
    /// The axis.
    pub time: TimeAxis,
    /// How long it is for those who read, in seconds.
    pub length_s: f64,
    /// The level aimed at.
    pub target: Option<Target>,
    /// The highest peak allowed.
    pub ceiling_db: Option<f64>,
    /// To be added to RMS levels.
    pub rms_offset_db: f64,
    /// Length of the sample-peak window of rows on a clock, in seconds, where it is known.
    pub peak_window_s: Option<f64>,
    /// Entries, by number.
    pub entries: &'a [Mark],
    /// Moments of overs.
    pub overs: &'a [f64],
}

/// From a level aimed at, or from the programme, to each edge of its lane, in dB.
const REACH_DB: f64 = 12.0;
/// Edges of the lane of peaks, in dB, as long as the peaks lie between them.
const PEAKS_DB: (f64, f64) = (-30.0, 3.0);
/// Peaks whose highest lies closer to the lower edge than this would hardly be seen, in dB.
const LEAST_SEEN_DB: f64 = 9.0;

impl Course<'_> {
    /// Peaks over loudness, and RMS where that is aimed at: a lane each on one clock.
    pub(crate) fn figure(&self, id: &str) -> Markup {
        let has_rms = self.target.is_some_and(|target| target.kind == TargetKind::Rms);
        let mut lanes = vec![self.peaks(), self.loudness()];
        lanes.extend(has_rms.then(|| self.rms()));
        let chart = Chart { rows: self.rows, time: self.time, marks: self.entries, lanes: &lanes };
        let mut columns: Vec<Column> = vec![
            (
                if self.knows_true_peaks() { "True peak" } else { "Sample peak" },
                self.peak_unit(),
                0.0,
                self.peak(),
            ),
            ("Short-term", "LUFS", 0.0, |levels| levels.short_term_lufs),
            ("Momentary", "LUFS", 0.0, |levels| levels.momentary_lufs),
        ];
        columns.extend(
            has_rms
                .then_some(RMS)
                .map(|(name, unit, _, get)| (name, unit, self.rms_offset_db, get)),
        );
        Figure {
            caption: html! {
                b { "Peaks and loudness" } " on one clock. " (self.peak_window())
                " Short-term: 3 s. Momentary: 400 ms." (self.thinned())
            },
            key: self.key(has_rms),
            drawing: chart.draw(&self.words(id)),
            table_label: "History as a table".into(),
            table: self.table(&columns),
        }
        .markup()
    }

    /// Whether the rows hold true peaks: those of a log do not.
    fn knows_true_peaks(&self) -> bool {
        self.rows.iter().any(|row| row.whole.true_peak_dbtp.db().is_some())
    }

    fn peak(&self) -> Get {
        match self.knows_true_peaks() {
            true => |levels| levels.true_peak_dbtp,
            false => |levels| levels.sample_peak_dbfs,
        }
    }

    fn peak_unit(&self) -> &'static str {
        if self.knows_true_peaks() { "dBTP" } else { "dBFS" }
    }

    /// Peaks, against the ceiling or a peak that is aimed at.
    fn peaks(&self) -> Lane<'_> {
        let ceiling = self.ceiling_db.map(|ceiling| Limit {
            ink: Ink::Ceiling,
            level: ceiling,
            name: format!("ceiling {}", words::fixed(ceiling, 1)),
        });
        let get = self.peak();
        let (low, high) = PEAKS_DB;
        let highest = self.highest(get, false).finite().unwrap_or(high);
        let low = if highest < low + LEAST_SEEN_DB {
            (highest / 10.0).floor() * 10.0 - 20.0
        } else {
            low
        };
        Lane {
            main: Curve { get, whole: Ink::Whole, audible: Ink::AudibleEdge },
            behind: None,
            limits: ceiling.into_iter().chain(self.target(TargetKind::Peak)).collect(),
            overs: self.overs,
            unit: if self.knows_true_peaks() { "true peak (dBTP)" } else { "sample peak (dBFS)" },
            offset_db: 0.0,
            range: (low, high.max(((highest + 0.5) / 3.0).ceil() * 3.0)),
        }
    }

    /// Short-term and momentary loudness.
    fn loudness(&self) -> Lane<'_> {
        let get: Get = |levels| levels.short_term_lufs;
        let target = self.target(TargetKind::Loudness);
        let momentary: Get = |levels| levels.momentary_lufs;
        Lane {
            main: Curve { get, whole: Ink::Whole, audible: Ink::Audible },
            behind: Some(Curve {
                get: momentary,
                whole: Ink::WholeFine,
                audible: Ink::AudibleFine,
            }),
            range: self.around(target.as_ref(), momentary, 0.0),
            limits: target.into_iter().collect(),
            overs: &[],
            unit: "loudness (LUFS)",
            offset_db: 0.0,
        }
    }

    /// RMS, against a target in RMS.
    fn rms(&self) -> Lane<'_> {
        let (.., get) = RMS;
        let target = self.target(TargetKind::Rms);
        Lane {
            main: Curve { get, whole: Ink::Whole, audible: Ink::AudibleEdge },
            behind: None,
            range: self.around(target.as_ref(), get, self.rms_offset_db),
            limits: target.into_iter().collect(),
            overs: &[],
            unit: "RMS (dBFS)",
            offset_db: self.rms_offset_db,
        }
    }

    fn highest(&self, get: Get, audible: bool) -> Level {
        let bands = self.rows.iter().map(|row| if audible { &row.audible } else { &row.whole });
        bands.map(get).fold(Level::NONE, Level::max)
    }

    /// Edges of a lane around the level aimed at, or around the middle of what is audible, wide enough
    /// for the highest level and for that middle.
    fn around(&self, target: Option<&Limit>, get: Get, offset_db: f64) -> (f64, f64) {
        let mut audible: Vec<f64> =
            self.rows.iter().filter_map(|row| get(&row.audible).finite()).collect();
        audible.sort_by(f64::total_cmp);
        let middle = audible.get(audible.len() / 2).map(|db| db + offset_db);
        let centre = target.map(|target| target.level).or(middle).unwrap_or(-REACH_DB).round();
        let highest = [false, true].map(|band| self.highest(get, band).finite());
        let highest = highest.into_iter().flatten().fold(f64::NEG_INFINITY, f64::max) + offset_db;
        let lowest =
            middle.map_or(centre, |middle| middle.min(highest - REACH_DB) - REACH_DB / 2.0);
        ((centre - REACH_DB).min(lowest.floor()), (centre + REACH_DB).max(highest.ceil()))
    }

    fn is_clock(&self) -> bool {
        matches!(self.time, TimeAxis::Clock(..))
    }

    /// Over what the largest sample is told.
    fn peak_window(&self) -> String {
        match self.peak_window_s {
            Some(window_s) if self.is_clock() => format!(
                "Sample peaks: the largest of the latest {} s, once a second.",
                words::plain(window_s)
            ),
            None if self.is_clock() => {
                "Sample peaks: held as the instance was set, once a second.".into()
            }
            _ if self.knows_true_peaks() => "True peaks: the highest of each 100 ms.".into(),
            _ => "Sample peaks: the largest of each 100 ms.".into(),
        }
    }

    /// Every line and fill by its name.
    fn key(&self, has_rms: bool) -> Vec<(Ink, &'static str)> {
        let mut key = if has_rms {
            vec![(Ink::Whole, "whole band: peak, short-term, RMS")]
        } else {
            vec![(Ink::Whole, "whole band: peak, short-term")]
        };
        key.extend([
            (
                Ink::AudibleFill,
                if has_rms { "audible band: peak, RMS" } else { "audible band: peak" },
            ),
            (Ink::Audible, "audible band: short-term"),
            (Ink::HiddenGround, "hidden: between the two bands"),
            (Ink::WholeFine, "whole band: momentary"),
            (Ink::AudibleFine, "audible band: momentary"),
        ]);
        key.extend(self.ceiling_db.is_some().then_some((Ink::Ceiling, "ceiling")));
        key.extend(self.target.is_some().then_some((Ink::Target, "target")));
        let marks = [
            (Ink::Axis, "entry, with its number"),
            (Ink::Marked, "entry that begins at a mark, with its number"),
        ];
        let is_drawn = |ink| self.entries.iter().any(|mark| mark.ink() == ink);
        key.extend(marks.into_iter().filter(|(ink, _)| is_drawn(*ink)));
        key.extend((!self.overs.is_empty()).then_some((Ink::Off, "over, at the upper edge")));
        key
    }

    /// The line of the target, in the lane of its kind.
    fn target(&self, kind: TargetKind) -> Option<Limit> {
        let target = self.target.filter(|target| target.kind == kind)?;
        let name = format!("target {}", words::fixed(target.value, 1));
        Some(Limit { ink: Ink::Target, level: target.value, name })
    }

    /// What a drawing of a long history leaves out.
    fn thinned(&self) -> String {
        let Some(step_s) = step_s(self.rows, self.time) else { return String::new() };
        format!(
            " Lines show the highest within each {}; the fill under the audible loudness reaches down \
             to the lowest.",
            words::duration(step_s)
        )
    }

    /// What is to be seen in the chart, in words.
    fn words(&self, id: &str) -> Words {
        let highest = |get: Get, audible| self.highest(get, audible);
        let peak = self.peak();
        let (peaks, unit) = match self.knows_true_peaks() {
            true => ("true peaks", "dBTP"),
            false => ("sample peaks", "dBFS"),
        };
        let short_term: Get = |levels| levels.short_term_lufs;
        Words {
            id: format!("{id}-history"),
            title: "Peaks and loudness over time".into(),
            description: format!(
                "Over {}: {peaks} of at most {:.1} {unit} in the whole band and {:.1} {unit} in the \
                 audible band; short-term loudness of at most {:.1} LUFS and {:.1} LUFS. The table \
                 below the chart has the numbers.",
                words::duration(self.length_s),
                highest(peak, false),
                highest(peak, true),
                highest(short_term, false),
                highest(short_term, true)
            ),
        }
    }

    /// The history at a step that keeps the table readable: the highest level within each step.
    fn table(&self, columns: &[Column]) -> Markup {
        let step = self.rows.len().div_ceil(MOST_ROWS).max(1);
        let first_s = self.rows.first().map_or(0.1, |row| row.time_s);
        let (time_unit, of) = if self.is_clock() {
            let rows = words::counted(step as u64, "row", "rows");
            ("UTC", format!("{rows} of the log, one a second,"))
        } else {
            ("min:s", words::duration(first_s * step as f64))
        };
        let time = |row: &HistoryRow| self.time.moment(row.time_s);
        let highest = |rows: &[HistoryRow], (_, _, offset_db, get): &Column, audible: bool| {
            let bands = rows.iter().map(|row| if audible { &row.audible } else { &row.whole });
            numbers::level(bands.map(*get).fold(Level::NONE, Level::max).plus(*offset_db))
        };
        html! {
            table {
                caption { "Each row has the highest level of the " (of) " up to its time." }
                thead {
                    tr {
                        th scope="col" rowspan="2" { "Time" span.unit { (time_unit) } }
                        @for (name, unit, ..) in columns {
                            th scope="colgroup" colspan="2" { (name) span.unit { (unit) } }
                        }
                    }
                    tr { @for _ in columns {
                        th scope="col" { "whole" }
                        th scope="col" { "audible" }
                    } }
                }
                tbody { @for rows in self.rows.chunks(step) {
                    tr {
                        th scope="row" { (rows.last().map(time).unwrap_or_default()) }
                        @for column in columns {
                            td { (highest(rows, column, false)) }
                            td { (highest(rows, column, true)) }
                        }
                    }
                } }
            }
        }
    }
}

/// A level of the table: name, unit, what is added to it in dB, and where it is.
type Column = (&'static str, &'static str, f64, Get);

/// RMS as a column.
const RMS: Column = ("RMS", "dBFS", 0.0, |levels| levels.rms_dbfs);
