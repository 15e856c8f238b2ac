//! Pages of everything that a page can be made of.

use std::sync::LazyLock;

use ledgerline_measure::entries::{Clock, Entries, EntryList, OpenedBy};
use ledgerline_measure::history::HistoryLevels;
use ledgerline_measure::reading::Reading;
use ledgerline_measure::sum_test::feed::Feed;
use ledgerline_measure::sum_test::identification::{ShownReading, identify};
use ledgerline_measure::sum_test::schedule::Schedule;
use ledgerline_measure::sum_test::{Audit, audit, compare_with_first};
use ledgerline_measure::{
    Halves, HistoryRow, Level, Meter, Settings, Spectrum, Target, TargetKind, View,
};
use ledgerline_report::read::{FileFacts, ReadPage};
use ledgerline_report::utc::Utc;
use ledgerline_report::{Made, audit as audit_page, read, session};
use ledgerline_tests::mixer::Mixer;
use ledgerline_tests::signals::switching::{Kind, Panning, Sources, Switching};
use ledgerline_tests::signals::tone::Sine;
use ledgerline_tests::signals::{Stereo, ferry, frames};

use super::compared::{changed, identical, page_of, strangers};
use super::session::evening;

/// A page made by somebody on an evening.
pub const MADE: Made = Made {
    at: Utc { unix_s: 1_794_690_000.0 },
    by: Some("Mira Lund"),
    command: Some("ledgerline read ferry.wav --report ferry.html"),
};

/// A signal that was read whole.
#[derive(Clone)]
pub struct Measured {
    pub reading: Reading,
    pub spectrum: Spectrum,
    pub history: Vec<HistoryRow>,
    pub entries: EntryList,
    pub settings: Settings,
    pub view: View,
    channels: usize,
}

impl Measured {
    pub fn of(signal: &Stereo, view: View) -> Self {
        Self::measure(signal.rate_hz, &signal.channels(), Settings::default(), view)
    }

    fn measure(rate_hz: f64, channels: &[&[f32]], settings: Settings, view: View) -> Self {
        let mut meter = Meter::new(rate_hz, channels.len(), 0, settings).expect("a good setting");
        meter.keep_history();
        meter.set_ceiling_db(view.ceiling_db);
        meter.process(channels, &[]);
        meter.finish();
        Self {
            reading: meter.reading(&view),
            spectrum: meter.spectrum(),
            history: meter.take_history(),
            entries: EntryList::default(),
            settings,
            view,
            channels: channels.len(),
        }
    }

    /// The page's view of it, as if it came from a file.
    pub fn as_file<'a>(&'a self, path: &'a str, warnings: &'a [String]) -> ReadPage<'a> {
        ReadPage {
            file: FileFacts {
                path,
                format: "WAV",
                codec: "PCM, 24 bit",
                decoder: None,
                sample_rate_hz: self.reading.sample_rate_hz as u32,
                channels: self.channels,
                duration_s: Some(self.reading.time_s),
                warnings,
            },
            reading: &self.reading,
            spectrum: &self.spectrum,
            history: &self.history,
            entries: &self.entries,
            settings: self.settings,
            view: self.view,
        }
    }
}

/// The ferry: hidden content on both sides of the audible band that comes up.
pub fn ferry() -> Measured {
    static FERRY: LazyLock<Measured> =
        LazyLock::new(|| Measured::of(&ferry::play(), View::default()));
    FERRY.clone()
}

/// Nothing at all.
pub fn silence() -> Measured {
    Measured::of(&Stereo::both(44_100.0, vec![0.0; 44_100]), View::default())
}

/// A tone in one channel, judged by its RMS.
pub fn mono() -> Measured {
    let tone: Vec<f32> = (0..96_000).map(|frame| 0.1 * (frame as f32 * 0.05).sin()).collect();
    let target = Some(Target { kind: TargetKind::Rms, value: -20.0 });
    let settings = Settings { halves: Halves::Mono, ..Settings::default() };
    Measured::measure(48_000.0, &[&tone], settings, View { target, ..View::default() })
}

/// A sine that reaches over full scale.
pub fn over() -> Measured {
    let sine = Sine::new(997.0, 1.05).play(48_000.0, 4.0);
    Measured::of(&Stereo::both(48_000.0, sine), View::default())
}

/// Noise in the middle: with itself, with another noise from 4 s on, with a mark at 8 s.
pub fn switched() -> Measured {
    let switching = Switching {
        kind: Kind::Uniform,
        peak_dbfs: -14.0,
        rate_hz: 48_000.0,
        each_s: 4.0,
        states: &[Sources::Same, Sources::Independent, Sources::Independent],
    };
    let signal = switching.play(Panning::Middle);
    let mut measured = Measured::of(&signal, View::default());
    measured.entries = entries(&signal, Some(8.0));
    measured
}

/// The entries of a signal, with a mark at a moment.
pub fn entries(signal: &Stereo, mark_s: Option<f64>) -> EntryList {
    let mut entries = Entries::new(signal.rate_hz, 2, 0, Settings::default(), View::default())
        .expect("a good setting");
    let mark = mark_s.map_or(signal.frames(), |mark_s| frames(signal.rate_hz, mark_s));
    entries.take(&signal.cut(0..mark).channels(), &[], Clock::default());
    if mark < signal.frames() {
        entries.open(OpenedBy::Mark);
        entries.take(&signal.cut(mark..signal.frames()).channels(), &[], Clock::default());
    }
    entries.finish();
    entries.list().clone()
}

/// Six hours, of which only the history is that long: levels that move all the time, and slowly
/// over the whole.
pub fn six_hours() -> Measured {
    let mut measured = ferry();
    let levels = |at: f64, offset: f64| {
        let slow = 6.0 * (at / 1_900.0).sin() + 2.0 * (at / 113.0).cos();
        let level = |wave: f64| Level::from_db(-25.0 + offset + slow + 4.0 * (at * wave).sin());
        HistoryLevels {
            momentary_lufs: level(1.7),
            short_term_lufs: level(0.31),
            sample_peak_dbfs: level(2.9),
            true_peak_dbtp: level(2.9),
            rms_dbfs: level(2.3),
        }
    };
    let row = |index: u32| {
        let time_s = f64::from(index + 1) / 10.0;
        HistoryRow {
            time_s,
            whole: levels(time_s, 6.0),
            audible: levels(time_s + 0.4, 0.0),
            your_meter_db: Level::NONE,
        }
    };
    measured.history = (0..216_000).map(row).collect();
    measured
}

/// Audits of a mixer without fault and of one that clips and is uneven, the first with its meter.
pub fn audits() -> Vec<Audit> {
    let schedule = Schedule::new(48_000).expect("a rate of the test");
    let feeds = [Feed::One, Feed::Two].map(|feed| feed.all(&schedule, -20.0));
    let uneven = Mixer { clip: 0.12, channel_gains: [1.0, 0.9], ..Mixer::default() };
    let judge = |name: &str, mixer: &Mixer| {
        let recording = mixer.record([&feeds[0], &feeds[1]], 48_000.0);
        let mut audit = audit(&[&recording], 48_000, -20.0).expect("a recording of the test");
        audit.recording.path = Some(format!("/recordings/{name}.wav"));
        audit
    };
    let mut clean = judge("clean", &Mixer::clean(3, 48_000.0));
    let shown = [(1, -24.0), (2, -24.0), (3, -18.0), (5, -21.0)]
        .map(|(step, shown_db)| ShownReading { step, shown_db });
    clean.meter = Some(identify(48_000, &shown, 1.0).expect("enough readings"));
    let mut audits = vec![clean, judge("uneven", &uneven)];
    compare_with_first(&mut audits);
    audits
}

/// Every kind of page, by name, made once for all tests.
pub fn pages() -> &'static [(&'static str, String)] {
    static PAGES: LazyLock<Vec<(&str, String)>> = LazyLock::new(make);
    &PAGES
}

fn make() -> Vec<(&'static str, String)> {
    let (ferry, silence, mono, long) = (ferry(), silence(), mono(), six_hours());
    let switched = switched();
    let warnings = ["The file is broken off.".to_owned()];
    let audits = audits();
    let several = [
        silence.as_file("silence.wav", &[]),
        mono.as_file("mono.wav", &warnings),
        ferry.as_file("/projects/night crossing/exports/ferry.wav", &[]),
    ];
    vec![
        ("ferry", read::page(&several[2..], &MADE)),
        ("several", read::page(&several, &MADE)),
        ("long", read::page(&[long.as_file("six hours.wav", &[])], &MADE)),
        ("switched", read::page(&[switched.as_file("switched.wav", &[])], &MADE)),
        ("over", read::page(&[over().as_file("over.wav", &[])], &MADE)),
        ("none", read::page(&[], &MADE)),
        ("audit", audit_page::page(&audits[..1], &MADE)),
        ("audits", audit_page::page(&audits, &MADE)),
        ("session", session::page(&evening(), &MADE)),
        ("instance", session::page(&evening()[1..], &MADE)),
        ("changed", page_of(&changed())),
        ("identical", page_of(&identical())),
        ("strangers", page_of(&strangers())),
    ]
}
