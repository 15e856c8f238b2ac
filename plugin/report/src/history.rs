//! The course of a bus over time: charts of loudness, sample peaks and RMS, each with its table.

use ledgerline_measure::{HistoryRow, Level, Target, TargetKind, words};
use maud::{Markup, html};

use crate::chart::history::{Chart, Curve, Get, Limit, step_s};
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

impl Course<'_> {
    /// Short-term and momentary loudness.
    pub(crate) fn loudness(&self, id: &str) -> Markup {
        let target = self.target(TargetKind::Loudness);
        let mut key = vec![
            (Ink::Whole, "short-term, whole band"),
            (Ink::Audible, "short-term, audible band"),
            (Ink::HiddenGround, "between them: hidden"),
            (Ink::WholeFine, "momentary, whole band"),
            (Ink::AudibleFine, "momentary, audible band"),
        ];
        key.extend(target.is_some().then_some((Ink::Target, "target")));
        key.extend(self.entries_keys());
        let what = Drawn {
            id: format!("{id}-loudness"),
            title: "Loudness over time",
            name: "Short-term loudness",
            unit: "LUFS",
            get: |levels| levels.short_term_lufs,
            offset_db: 0.0,
        };
        let chart = Chart {
            behind: Some(Curve {
                get: |l| l.momentary_lufs,
                whole: Ink::WholeFine,
                audible: Ink::AudibleFine,
            }),
            ..self.chart(&what, Ink::Audible, target, "loudness (LUFS)")
        };
        let columns: [(&str, Get); 2] = [
            ("Short-term", |levels| levels.short_term_lufs),
            ("Momentary", |levels| levels.momentary_lufs),
        ];
        let every = if self.is_clock() { ", once a second" } else { "" };
        Figure {
            caption: html! {
                b { "Loudness" } ", short-term (3 s) and momentary (400 ms), in LUFS" (every)
                (self.thinned(true))
            },
            key,
            drawing: chart.draw(&self.words(&what)),
            table_label: "Loudness over time as a table".into(),
            table: self.table(&columns, "LUFS", 0.0),
        }
        .markup()
    }

    /// The largest samples.
    pub(crate) fn peaks(&self, id: &str) -> Markup {
        let limit = self.ceiling_db.map(|ceiling| Limit {
            ink: Ink::Ceiling,
            level: ceiling,
            name: format!("ceiling {}", words::fixed(ceiling, 1)),
        });
        let what = Drawn {
            id: format!("{id}-peaks"),
            title: "Sample peaks over time",
            name: "Sample peak",
            unit: "dBFS",
            get: |levels| levels.sample_peak_dbfs,
            offset_db: 0.0,
        };
        let mut key = self.filled_key();
        key.extend(limit.is_some().then_some((Ink::Ceiling, "ceiling")));
        key.extend(self.entries_keys());
        key.extend((!self.overs.is_empty()).then_some((Ink::Off, "over, at the upper edge")));
        let chart = Chart {
            overs: self.overs,
            ..self.chart(&what, Ink::AudibleEdge, limit, "sample peak (dBFS)")
        };
        let window = match self.peak_window_s {
            Some(window_s) if self.is_clock() => {
                format!("the largest of the latest {} s, once a second", words::plain(window_s))
            }
            None if self.is_clock() => "held as the instance was set, once a second".to_owned(),
            _ => "the largest of each 100 ms".to_owned(),
        };
        Figure {
            caption: html! {
                b { "Sample peaks" } ", " (window) ", in dBFS" (self.thinned(false))
            },
            key,
            drawing: chart.draw(&self.words(&what)),
            table_label: "Sample peaks over time as a table".into(),
            table: self.table(&[("Sample peak", what.get)], "dBFS", 0.0),
        }
        .markup()
    }

    /// RMS, against a target in RMS.
    pub(crate) fn rms(&self, id: &str) -> Markup {
        let offset_db = self.rms_offset_db;
        let what = Drawn {
            id: format!("{id}-rms"),
            title: "RMS over time",
            name: "RMS",
            unit: "dBFS",
            get: |levels| levels.rms_dbfs,
            offset_db,
        };
        let mut key = self.filled_key();
        key.push((Ink::Target, "target"));
        let target = self.target(TargetKind::Rms);
        let chart = self.chart(&what, Ink::AudibleEdge, target, "RMS (dBFS)");
        Figure {
            caption: html! { b { "RMS" } " of each 100 ms, in dBFS" (self.thinned(false)) },
            key,
            drawing: chart.draw(&self.words(&what)),
            table_label: "RMS over time as a table".into(),
            table: self.table(&[("RMS", what.get)], "dBFS", offset_db),
        }
        .markup()
    }

    fn is_clock(&self) -> bool {
        matches!(self.time, TimeAxis::Clock(..))
    }

    fn chart<'a>(
        &'a self,
        what: &Drawn,
        audible: Ink,
        limit: Option<Limit>,
        unit: &'a str,
    ) -> Chart<'a> {
        Chart {
            rows: self.rows,
            time: self.time,
            marks: self.entries,
            overs: &[],
            main: Curve { get: what.get, whole: Ink::Whole, audible },
            behind: None,
            limit,
            unit,
            offset_db: what.offset_db,
        }
    }

    fn filled_key(&self) -> Vec<(Ink, &'static str)> {
        vec![
            (Ink::Whole, "whole band"),
            (Ink::AudibleFill, "audible band, filled"),
            (Ink::HiddenGround, "between them: hidden"),
        ]
    }

    fn entries_keys(&self) -> impl Iterator<Item = (Ink, &'static str)> {
        let keys = [
            (Ink::Axis, "entry, with its number"),
            (Ink::Marked, "entry that begins at a mark, with its number"),
        ];
        let is_drawn = |ink| self.entries.iter().any(|mark| mark.ink() == ink);
        keys.into_iter().filter(move |(ink, _)| is_drawn(*ink))
    }

    /// The line of the target, on the chart of its kind.
    fn target(&self, kind: TargetKind) -> Option<Limit> {
        let target = self.target.filter(|target| target.kind == kind)?;
        let name = format!("target {}", words::fixed(target.value, 1));
        Some(Limit { ink: Ink::Target, level: target.value, name })
    }

    /// What a drawing of a long history leaves out.
    fn thinned(&self, has_band: bool) -> String {
        let Some(step_s) = step_s(self.rows, self.time) else { return String::new() };
        let band = if has_band {
            "; the fill under the audible line reaches down to the lowest"
        } else {
            ""
        };
        format!(". Lines show the highest within each {}{band}.", words::duration(step_s))
    }

    /// What is to be seen in a chart, in words.
    fn words(&self, what: &Drawn) -> Words {
        let highest = |audible: bool| {
            let bands = self.rows.iter().map(|row| if audible { &row.audible } else { &row.whole });
            bands.map(what.get).fold(Level::NONE, Level::max).plus(what.offset_db)
        };
        let (name, unit) = (what.name, what.unit);
        Words {
            id: what.id.clone(),
            title: what.title.into(),
            description: format!(
                "{name} over {}: at most {:.1} {unit} in the whole band and {:.1} {unit} in the \
                 audible band. The table below the chart has the numbers.",
                words::duration(self.length_s),
                highest(false),
                highest(true)
            ),
        }
    }

    /// The history at a step that keeps the table readable: the highest level within each step.
    fn table(&self, columns: &[(&str, Get)], unit: &str, offset_db: f64) -> Markup {
        let step = self.rows.len().div_ceil(MOST_ROWS).max(1);
        let first_s = self.rows.first().map_or(0.1, |row| row.time_s);
        let (time_unit, of) = if self.is_clock() {
            let rows = words::counted(step as u64, "row", "rows");
            ("UTC", format!("{rows} of the log, one a second,"))
        } else {
            ("min:s", words::duration(first_s * step as f64))
        };
        let time = |row: &HistoryRow| self.time.moment(row.time_s);
        let highest = |rows: &[HistoryRow], get: Get, audible: bool| {
            let bands = rows.iter().map(|row| if audible { &row.audible } else { &row.whole });
            numbers::level(bands.map(get).fold(Level::NONE, Level::max).plus(offset_db))
        };
        html! {
            table {
                caption {
                    "In " (unit) ". Each row has the highest level of the " (of) " up to its time."
                }
                thead {
                    tr {
                        th scope="col" rowspan="2" { "Time" span.unit { (time_unit) } }
                        @for (name, _) in columns { th scope="colgroup" colspan="2" { (name) } }
                    }
                    tr { @for _ in columns {
                        th scope="col" { "whole" }
                        th scope="col" { "audible" }
                    } }
                }
                tbody { @for rows in self.rows.chunks(step) {
                    tr {
                        th scope="row" { (rows.last().map(time).unwrap_or_default()) }
                        @for (_, get) in columns {
                            td { (highest(rows, *get, false)) }
                            td { (highest(rows, *get, true)) }
                        }
                    }
                } }
            }
        }
    }
}

/// One level that is drawn.
struct Drawn {
    id: String,
    title: &'static str,
    name: &'static str,
    unit: &'static str,
    get: Get,
    offset_db: f64,
}
