//! Everything the user may choose, as plain data: what the screen's widgets change, and what the
//! parameters of the plugin mean. Nothing here knows about a host or about drawing.

use ledgerline_measure::detector::{Detector, MeterKind};
use ledgerline_measure::settings::MOST_OFFSET_DB;
use ledgerline_measure::sum_test::pattern::{EACH_RANGE_S, USUAL_EACH_S};
use ledgerline_measure::sum_test::{Feed, HIGHEST_LEVEL_DBFS, NoiseKind, USUAL_LEVEL_DBFS};
use ledgerline_measure::{
    ClipAt, Edges, Halves, RmsReference, RmsWindow, Settings, Target, TargetKind, TruePeakFilter,
    View, YourMeter,
};

/// What the output carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Listen {
    /// The input, bit for bit.
    #[default]
    Off,
    /// The audible band only, as the measures see it.
    Audible,
    /// What is above the upper edge, shifted down so that the upper edge falls on 0 Hz.
    Hidden,
    /// What clipping would take off, in the audible band.
    Damage,
}

impl Listen {
    /// What the output carries.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Off => "off",
            Self::Audible => "audible band only",
            Self::Hidden => "hidden content, shifted down",
            Self::Damage => "damage of clipping alone",
        }
    }

    /// The same where width is short.
    #[must_use]
    pub fn short(self) -> &'static str {
        match self {
            Self::Off => "off",
            Self::Audible => "audible",
            Self::Hidden => "hidden",
            Self::Damage => "damage",
        }
    }
}

/// What this instance does in the sum test.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum SumTest {
    /// Nothing.
    #[default]
    Off,
    /// Its output is feed 1.
    Feed1,
    /// Its output is feed 2.
    Feed2,
    /// It hears the sum of both and fills in the table.
    Bus,
}

impl SumTest {
    /// The part that the instance takes.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Off => "off",
            Self::Feed1 => "feed 1",
            Self::Feed2 => "feed 2",
            Self::Bus => "bus",
        }
    }

    /// The feed that the output is replaced by, if any.
    #[must_use]
    pub fn feed(self) -> Option<Feed> {
        match self {
            Self::Feed1 => Some(Feed::One),
            Self::Feed2 => Some(Feed::Two),
            Self::Off | Self::Bus => None,
        }
    }
}

/// A band.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum MeterBand {
    /// As the signal is stored.
    #[default]
    Whole,
    /// What is left between the two edges.
    Audible,
}

/// What the feeds play.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum FeedsPlay {
    /// The sum test, from the beginning of the project.
    #[default]
    Test,
    /// The pattern of pairs, over and over, on uniform noise.
    Uniform,
    /// The same on Gaussian noise.
    Gaussian,
    /// The same on pink noise.
    Pink,
}

impl FeedsPlay {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Test, Self::Uniform, Self::Gaussian, Self::Pink];

    /// What they play.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Test => "the test",
            Self::Uniform => "loop, uniform noise",
            Self::Gaussian => "loop, Gaussian noise",
            Self::Pink => "loop, pink noise",
        }
    }

    /// The same where width is short.
    #[must_use]
    pub fn short(self) -> &'static str {
        self.noise().map_or("test", NoiseKind::word)
    }

    /// The noise of the loop, if they play it.
    #[must_use]
    pub fn noise(self) -> Option<NoiseKind> {
        match self {
            Self::Test => None,
            Self::Uniform => Some(NoiseKind::Uniform),
            Self::Gaussian => Some(NoiseKind::Gaussian),
            Self::Pink => Some(NoiseKind::Pink),
        }
    }
}

/// What kind of level is aimed at, if any.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Aim {
    /// None.
    #[default]
    None,
    /// Integrated loudness of the audible band, in LUFS.
    Loudness,
    /// RMS of the audible band, in dBFS.
    Rms,
    /// True peak of the audible band, in dBTP.
    Peak,
}

impl Aim {
    /// What aims at a kind of level.
    #[must_use]
    pub fn of(kind: TargetKind) -> Self {
        match kind {
            TargetKind::Loudness => Self::Loudness,
            TargetKind::Rms => Self::Rms,
            TargetKind::Peak => Self::Peak,
        }
    }

    /// The kind of the level.
    #[must_use]
    pub fn kind(self) -> Option<TargetKind> {
        match self {
            Self::None => None,
            Self::Loudness => Some(TargetKind::Loudness),
            Self::Rms => Some(TargetKind::Rms),
            Self::Peak => Some(TargetKind::Peak),
        }
    }

    /// What is aimed at.
    #[must_use]
    pub fn word(self) -> &'static str {
        self.kind().map_or("none", TargetKind::word)
    }

    /// The same where width is short.
    #[must_use]
    pub fn short(self) -> &'static str {
        match self {
            Self::Peak => "peak",
            other => other.word(),
        }
    }

    /// The unit of the level aimed at; none without one.
    #[must_use]
    pub fn unit(self) -> &'static str {
        self.kind().map_or("", TargetKind::unit)
    }
}

/// The value of every parameter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Choices {
    /// What kind of level is aimed at, if any.
    pub target_kind: Aim,
    /// The level aimed at where there is one: LUFS, dBFS or dBTP, by kind.
    pub target_value: f64,
    /// The highest peak allowed, in dBFS and dBTP.
    pub ceiling_db: f64,
    /// Lower edge of the audible band, in Hz.
    pub low_edge_hz: f64,
    /// Upper edge of the audible band, in Hz.
    pub high_edge_hz: f64,
    /// What the halves are: left and right, or main and side-chain. On a mono bus, left and right
    /// means the one channel there is.
    pub halves: Halves,
    /// Length of the RMS window.
    pub rms_window: RmsWindow,
    /// What 0 dBFS means for RMS.
    pub rms_reference: RmsReference,
    /// Length of the sample-peak window, in seconds.
    pub peak_window_s: f64,
    /// How the true peak is found.
    pub true_peak: TruePeakFilter,
    /// Where clipping is thought, to tell what it would add.
    pub clip_at: ClipAt,
    /// What the output carries.
    pub listen: Listen,
    /// What this instance does in the sum test.
    pub sum_test: SumTest,
    /// Level of the feeds, in dBFS of the peak.
    pub feed_level_dbfs: f64,
    /// Whether a feed plays in an offline render as well.
    pub feed_offline: bool,
    /// How the user's own meter reads; none where it is not known.
    pub meter_detector: Option<Detector>,
    /// The band that it reads.
    pub meter_band: MeterBand,
    /// What its scale adds to dBFS, in dB.
    pub meter_offset_db: f64,
    /// Whether the log is written.
    pub log: bool,
    /// Whether the plugin is bypassed: the output is the input, and nothing is measured.
    pub bypass: bool,
    /// What the feeds play; on the bus, what is listened for.
    pub feeds_play: FeedsPlay,
    /// How long each pair of the loop plays, in seconds.
    pub pair_s: f64,
}

/// What the level aimed at may be, in LUFS, dBFS or dBTP.
pub const TARGET_RANGE: (f64, f64) = (-60.0, 0.0);
/// What the ceiling may be, in dBFS and dBTP.
pub const CEILING_RANGE_DB: (f64, f64) = (-24.0, 0.0);
/// What the length of the sample-peak window may be, in seconds.
pub const PEAK_WINDOW_RANGE_S: (f64, f64) = (0.1, 10.0);
/// What the scale of the user's own meter may add to dBFS, in dB.
pub const METER_OFFSET_RANGE_DB: (f64, f64) = (-MOST_OFFSET_DB, MOST_OFFSET_DB);
/// What the level of the feeds may be, in dBFS of the peak.
pub const FEED_LEVEL_RANGE_DBFS: (f64, f64) = (-60.0, HIGHEST_LEVEL_DBFS);
/// How long each pair of the loop may play, in seconds.
pub const PAIR_RANGE_S: (f64, f64) = EACH_RANGE_S;

impl Choices {
    /// Whether this instance hears the bus of a sum test, and not of the loop, in which there is
    /// nothing to be judged.
    #[must_use]
    pub fn hears_test(&self) -> bool {
        self.sum_test == SumTest::Bus && self.feeds_play == FeedsPlay::Test
    }

    /// The edges of the audible band: the nearest that can be.
    #[must_use]
    pub fn edges(&self) -> Edges {
        Edges::nearest(self.low_edge_hz, self.high_edge_hz)
    }

    /// The part that shapes how samples are measured: changing it starts the readings afresh.
    #[must_use]
    pub fn settings(&self) -> Settings {
        Settings { edges: self.edges(), halves: self.halves, true_peak: self.true_peak }
    }

    /// The part that shapes only how readings are shown: it applies at once.
    #[must_use]
    pub fn view(&self) -> View {
        View {
            target: self.target_kind.kind().map(|kind| Target { kind, value: self.target_value }),
            ceiling_db: self.ceiling_db,
            clip_at: self.clip_at,
            rms_window: self.rms_window,
            rms_reference: self.rms_reference,
            peak_window_s: self.peak_window_s,
            your_meter: self.your_meter(),
        }
    }

    /// The meter that the user's mixer shows, where it is known.
    #[must_use]
    pub fn your_meter(&self) -> Option<YourMeter> {
        let kind = MeterKind {
            detector: self.meter_detector?,
            audible: self.meter_band == MeterBand::Audible,
        };
        Some(YourMeter { kind, offset_db: self.meter_offset_db })
    }
}

impl Default for Choices {
    fn default() -> Self {
        let (settings, view) = (Settings::default(), View::default());
        Self {
            target_kind: Aim::None,
            target_value: Target::default().value,
            ceiling_db: view.ceiling_db,
            low_edge_hz: settings.edges.low_hz(),
            high_edge_hz: settings.edges.high_hz(),
            halves: settings.halves,
            rms_window: view.rms_window,
            rms_reference: view.rms_reference,
            peak_window_s: view.peak_window_s,
            true_peak: settings.true_peak,
            clip_at: view.clip_at,
            listen: Listen::Off,
            sum_test: SumTest::Off,
            feed_level_dbfs: USUAL_LEVEL_DBFS,
            feed_offline: false,
            meter_detector: None,
            meter_band: MeterBand::Whole,
            meter_offset_db: 0.0,
            log: false,
            bypass: false,
            feeds_play: FeedsPlay::Test,
            pair_s: USUAL_EACH_S,
        }
    }
}
