//! What shapes a measurement: the plugin's settings, with the plugin's defaults.

use clap::{Args, ValueEnum};
use ledgerline_measure::detector::MeterKind;
use ledgerline_measure::settings::MOST_OFFSET_DB;
use ledgerline_measure::{
    ClipAt, Edges, Halves, PRESETS, Preset, RmsReference, RmsWindow, Settings, Target, TargetKind,
    TruePeakFilter, View, YourMeter,
};

/// Options of every task that measures.
#[derive(Debug, Clone, Args)]
#[command(next_help_heading = "Measuring")]
pub struct MeasuringOptions {
    /// The level aimed at: -23 or -23LUFS for integrated loudness, -20dBFS for RMS, -1dBTP for the
    /// true peak, each of the audible band; none; or r128, a85, td1004, td1008-speech, td1008-music for
    /// the level and the ceiling that these documents ask for.
    #[arg(long, value_name = "LEVEL", default_value = "none", value_parser = aim,
        allow_hyphen_values = true)]
    pub target: Aim,
    /// The highest peak allowed, in dBFS and dBTP: -1 unless the target brings another.
    #[arg(long, value_name = "DB", value_parser = ceiling, allow_negative_numbers = true)]
    pub ceiling: Option<f64>,
    /// Edges of the audible band in Hz: 20-20000, or 20-16k.
    #[arg(long, value_name = "LOW-HIGH", default_value = "20-20000", value_parser = band)]
    pub band: Edges,
    /// What the two halves are.
    #[arg(long, value_enum, default_value_t)]
    pub halves: HalvesOption,
    /// What 0 dBFS means for RMS.
    #[arg(long, value_enum, default_value_t)]
    pub rms_reference: RmsReferenceOption,
    /// How the true peak is found.
    #[arg(long, value_enum, default_value_t)]
    pub true_peak: TruePeakOption,
    /// The meter that your mixer shows: sample_peak, true_peak, rms, needle, programme_1, programme_2
    /// or momentary, in the whole band, or with /audible behind it in the audible band. Says what it
    /// shows of this programme, and where it stands when the programme is at its target.
    #[arg(long, value_name = "KIND")]
    pub your_meter: Option<MeterKind>,
    /// What the scale of your meter adds to dBFS: 18 where its 0 is -18 dBFS.
    #[arg(long, value_name = "DB", value_parser = offset, requires = "your_meter",
        allow_negative_numbers = true, default_value_t = 0.0)]
    pub offset: f64,
    /// Where clipping is thought, to tell what it would add.
    #[arg(long, value_enum, default_value_t)]
    pub clip_at: ClipAtOption,
}

impl MeasuringOptions {
    /// What shapes how samples are measured.
    #[must_use]
    pub fn settings(&self) -> Settings {
        Settings {
            edges: self.band,
            halves: match self.halves {
                HalvesOption::LeftRight => Halves::LeftRight,
                HalvesOption::MainSidechain => Halves::MainSidechain,
                HalvesOption::Mono => Halves::Mono,
            },
            true_peak: match self.true_peak {
                TruePeakOption::Interpolated => TruePeakFilter::Interpolated,
                TruePeakOption::Bs1770 => TruePeakFilter::Bs1770,
            },
        }
    }

    /// What shapes how readings are told.
    #[must_use]
    pub fn view(&self) -> View {
        View {
            target: self.target.target,
            ceiling_db: self
                .ceiling
                .or(self.target.ceiling_db)
                .unwrap_or_else(|| View::default().ceiling_db),
            clip_at: match self.clip_at {
                ClipAtOption::FullScale => ClipAt::FullScale,
                ClipAtOption::Ceiling => ClipAt::Ceiling,
            },
            // A file is read as a whole.
            rms_window: RmsWindow::SinceReset,
            rms_reference: match self.rms_reference {
                RmsReferenceOption::Square => RmsReference::FullScaleSquare,
                RmsReferenceOption::Sine => RmsReference::FullScaleSine,
            },
            your_meter: self.your_meter.map(|kind| YourMeter { kind, offset_db: self.offset }),
            ..View::default()
        }
    }
}

/// What a scale adds, in dB.
fn offset(word: &str) -> Result<f64, String> {
    match word.replace('\u{2212}', "-").parse::<f64>() {
        Ok(db) if db.abs() <= MOST_OFFSET_DB => Ok(db),
        Ok(db) => Err(format!("{db} dB: a scale lies within {MOST_OFFSET_DB} dB of dBFS")),
        Err(_) => Err(format!("'{word}' is not a number of decibels")),
    }
}

/// What `--target` asks for.
#[derive(Debug, Clone, Copy, Default)]
pub struct Aim {
    /// The level aimed at, if any.
    target: Option<Target>,
    /// The ceiling that comes with it.
    ceiling_db: Option<f64>,
}

/// What the halves are.
#[derive(Debug, Clone, Copy, Default, ValueEnum)]
pub enum HalvesOption {
    /// Left and right; the one channel of a mono file.
    #[default]
    LeftRight,
    /// Main and side-chain: channels 1 and 2, or 1-2 and 3-4.
    MainSidechain,
    /// One channel.
    Mono,
}

/// What 0 dBFS means for RMS.
#[derive(Debug, Clone, Copy, Default, ValueEnum)]
pub enum RmsReferenceOption {
    /// A full-scale square wave; a full-scale sine reads -3.01 dBFS.
    #[default]
    Square,
    /// A full-scale sine (AES17).
    Sine,
}

/// How the true peak is found.
#[derive(Debug, Clone, Copy, Default, ValueEnum)]
pub enum TruePeakOption {
    /// Within 0.02 dB for sines up to 20 kHz.
    #[default]
    Interpolated,
    /// The filter printed in ITU-R BS.1770, for those who must match it.
    Bs1770,
}

/// Where clipping is thought.
#[derive(Debug, Clone, Copy, Default, ValueEnum)]
pub enum ClipAtOption {
    /// At full scale, as fixed point clips.
    #[default]
    FullScale,
    /// At the ceiling.
    Ceiling,
}

/// Splits a number from the unit behind it. A true minus sign, as typesetting has it, is meant like
/// a hyphen.
fn number_and_unit(word: &str) -> Option<(f64, String)> {
    let word = word.trim().replace('\u{2212}', "-");
    let end = word
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '-' | '+' | '.')))
        .unwrap_or(word.len());
    let number: f64 = word[..end].parse().ok()?;
    Some((number, word[end..].trim().to_ascii_lowercase()))
}

fn aim(word: &str) -> Result<Aim, String> {
    if word.eq_ignore_ascii_case("none") {
        return Ok(Aim::default());
    }
    if let Some(preset) = Preset::of_word(word) {
        return Ok(Aim { target: Some(preset.target), ceiling_db: Some(preset.ceiling_db) });
    }
    target(word).map(|target| Aim { target: Some(target), ceiling_db: None })
}

fn target(word: &str) -> Result<Target, String> {
    let unknown = || {
        let presets: Vec<&str> = PRESETS.iter().map(|preset| preset.word).collect();
        format!(
            "'{word}' is no level: write -23LUFS (loudness), -20dBFS (RMS) or -1dBTP (peak), none, {}",
            presets.join(", ")
        )
    };
    let (value, unit) = number_and_unit(word).ok_or_else(unknown)?;
    let kind = match unit.as_str() {
        "" | "lufs" | "lkfs" => TargetKind::Loudness,
        "dbfs" => TargetKind::Rms,
        "dbtp" => TargetKind::Peak,
        _ => return Err(unknown()),
    };
    if (-60.0..=0.0).contains(&value) {
        Ok(Target { kind, value })
    } else {
        Err(format!("a target of {value} cannot be meant: it lies between -60 and 0"))
    }
}

fn ceiling(word: &str) -> Result<f64, String> {
    match number_and_unit(word) {
        Some((db, unit)) if matches!(unit.as_str(), "" | "db" | "dbfs" | "dbtp") => {
            if (-24.0..=0.0).contains(&db) {
                Ok(db)
            } else {
                Err(format!("a ceiling of {db} dB cannot be meant: it lies between -24 and 0 dB"))
            }
        }
        _ => Err(format!("'{word}' is no number of decibels")),
    }
}

pub(super) fn band(word: &str) -> Result<Edges, String> {
    let edge = |word: &str| -> Option<f64> {
        let (number, unit) = number_and_unit(word)?;
        match unit.as_str() {
            "" | "hz" => Some(number),
            "k" | "khz" => Some(1000.0 * number),
            _ => None,
        }
    };
    let (low_hz, high_hz) = word
        .split_once('-')
        .and_then(|(low, high)| edge(low).zip(edge(high)))
        .ok_or_else(|| format!("'{word}' is no band: write 20-20000 or 20-16k"))?;
    Edges::new(low_hz, high_hz).map_err(|error| error.to_string())
}
