//! A meter that has measured something else and was restarted reads what a new one reads, to the last
//! digit: the command measures many files with a few meters.

use ledgerline_measure::detector::{Detector, MeterKind};
use ledgerline_measure::{ChannelRole, ClipAt, Meter, Settings, TruePeakFilter, View, YourMeter};
use ledgerline_tests::signals::noise;
use serde_json::{Value, json};

const BLOCK_FRAMES: usize = 1000;

struct Case {
    rate_hz: f64,
    roles: Vec<ChannelRole>,
    settings: Settings,
    word_bits: Option<u32>,
    clip_at: ClipAt,
    detector: Detector,
    keeps_history: bool,
}

impl Case {
    fn meter(&self) -> Meter {
        let mut meter = Meter::for_channels(self.rate_hz, &self.roles, self.settings)
            .expect("a bus that can be measured");
        meter.set_ceiling_db(self.view().ceiling_db);
        meter.set_your_meter(self.view().your_meter.map(|meter| meter.kind));
        meter.clip_at(self.clip_at);
        meter.set_word_bits(self.word_bits);
        meter.draw_at_the_end();
        meter.keep_decorrelation();
        if self.keeps_history {
            meter.keep_history();
        }
        meter
    }

    fn view(&self) -> View {
        let kind = MeterKind { detector: self.detector, audible: true };
        let your_meter = Some(YourMeter { kind, offset_db: 18.0 });
        View { ceiling_db: -6.0, your_meter, ..View::default() }
    }

    /// Noise of so many frames about a level of its own, with DC and a tone, in each channel.
    fn sound(&self, seed: u64, amplitude: f64, frames: usize) -> Vec<Vec<f32>> {
        let channel = |index: usize| {
            let step = (0.001 + 0.01 * index as f64) * seed as f64;
            let mut samples = noise::white(seed + 31 * index as u64, amplitude, frames);
            for (frame, sample) in samples.iter_mut().enumerate() {
                *sample += (0.1 * (frame as f64 * step).sin() + 0.02) as f32;
            }
            samples
        };
        (0..self.roles.len()).map(channel).collect()
    }

    fn measure(&self, meter: &mut Meter, channels: &[Vec<f32>]) -> Value {
        let total = channels[0].len();
        for from in (0..total).step_by(BLOCK_FRAMES) {
            let to = (from + BLOCK_FRAMES).min(total);
            let block: Vec<&[f32]> = channels.iter().map(|channel| &channel[from..to]).collect();
            meter.process(&block, &[]);
        }
        meter.finish();
        let Ok(reading) = serde_json::to_value(meter.reading(&self.view()).over_the_whole()) else {
            panic!("a reading can be written")
        };
        let spectrum = meter.spectrum();
        let drawn = [spectrum.now_dbfs, spectrum.mean_dbfs].concat();
        let drawn: Vec<u32> = drawn.into_iter().map(f32::to_bits).collect();
        json!({ "reading": reading, "spectrum": drawn, "history": meter.take_history() })
    }
}

fn cases() -> Vec<Case> {
    use ChannelRole::{Center, Left, LowFrequency, Right, Surround};
    let stereo = |rate_hz, detector| Case {
        rate_hz,
        roles: vec![Left, Right],
        settings: Settings::default(),
        word_bits: None,
        clip_at: ClipAt::FullScale,
        detector,
        keeps_history: true,
    };
    vec![
        stereo(44_100.0, Detector::Needle),
        Case { word_bits: Some(16), ..stereo(48_000.0, Detector::TruePeak) },
        Case { clip_at: ClipAt::Ceiling, ..stereo(96_000.0, Detector::Programme1) },
        Case { roles: vec![Left], keeps_history: false, ..stereo(48_000.0, Detector::Rms) },
        Case {
            roles: vec![Left, Right, Center, LowFrequency, Surround, Surround],
            ..stereo(48_000.0, Detector::Momentary)
        },
        Case {
            settings: Settings { true_peak: TruePeakFilter::Bs1770, ..Settings::default() },
            ..stereo(48_000.0, Detector::SamplePeak)
        },
    ]
}

#[test]
fn whatever_it_measured_before() {
    for case in cases() {
        let what = format!("{} Hz, {} channels", case.rate_hz, case.roles.len());
        let frames = (2.3 * case.rate_hz) as usize + 17;
        let quiet = case.sound(3, 0.1, frames);
        let expected = case.measure(&mut case.meter(), &quiet);
        let mut meter = case.meter();
        // Over full scale, then sound with what is no sample in it, then a few frames, then silence.
        let mut bad = case.sound(7, 0.8, frames / 2);
        bad[0][frames / 3] = f32::NAN;
        let silence = vec![vec![0.0; frames]; case.roles.len()];
        for before in [case.sound(5, 1.6, frames), bad, case.sound(9, 0.5, 33), silence] {
            case.measure(&mut meter, &before);
            meter.restart();
            let got = case.measure(&mut meter, &quiet);
            assert!(got == expected, "{what}:\n{got:#}\n{expected:#}");
            meter.restart();
        }
    }
}
