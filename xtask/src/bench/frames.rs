//! How long the editor takes for a frame with a day of history: layout and tessellation, without drawing.

use std::time::Instant;

use anyhow::Result;
use egui::{Context, Pos2, RawInput, Rect};
use ledgerline::choices::Choices;
use ledgerline::editor::screen::{self, FIRST_SIZE, Given, ScreenState};
use ledgerline::handover::Snapshot;
use ledgerline::history::{Column, History, Span};
use ledgerline::params::window::Theme;
use ledgerline_measure::{Meter, Settings, View};
use ledgerline_tests::signals::bench_mix;

/// Frames timed, and frames before them in which sizes settle and glyphs are rasterised.
const FRAMES: usize = 200;
const SETTLING_FRAMES: usize = 20;
/// Audio between two frames, in samples: the numbers on the screen move as they do in use.
const FRAMES_OF_AUDIO: usize = 1600;

/// Median time of a frame in milliseconds, with readings that change from frame to frame.
///
/// # Errors
///
/// When the ferry mix cannot be measured.
pub fn time() -> Result<f64> {
    let mix = bench_mix::play_for(8.0);
    let [left, right] = mix.channels();
    let mut meter = Meter::new(mix.rate_hz, 2, 0, Settings::default())?;
    let context = Context::default();
    let mut choices = Choices::default();
    let mut state = ScreenState::new(Theme::Dark);
    state.time.span = Span::Everything;
    let history = a_day();
    let mut times_ms = Vec::new();
    let pieces = left.chunks(FRAMES_OF_AUDIO).zip(right.chunks(FRAMES_OF_AUDIO));
    for (frame, (left, right)) in pieces.take(SETTLING_FRAMES + FRAMES).enumerate() {
        meter.process(&[left, right], &[]);
        let snapshot =
            Snapshot { reading: meter.reading(&View::default()), spectrum: meter.spectrum() };
        let input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, FIRST_SIZE)),
            time: Some(frame as f64 / 60.0),
            ..RawInput::default()
        };
        let start = Instant::now();
        let output = context.run_ui(input, |ui| {
            let given = Given { snapshot: &snapshot, history: &history };
            screen::show(ui, given, &mut choices, &mut state);
        });
        let primitives = context.tessellate(output.shapes, output.pixels_per_point);
        let time = start.elapsed();
        std::hint::black_box(primitives);
        if frame >= SETTLING_FRAMES {
            times_ms.push(time.as_secs_f64() * 1e3);
        }
    }
    times_ms.sort_by(f64::total_cmp);
    Ok(times_ms[times_ms.len() / 2])
}

/// A day of levels that move.
pub(super) fn a_day() -> History {
    let mut history = History::default();
    for index in 0..864_000u32 {
        let end_s = f64::from(index + 1) / 10.0;
        let level = (-12.0 + 8.0 * (end_s / 7.0).sin() * (end_s / 311.0).cos()) as f32;
        history.columns.push(Column {
            your_meter_db: -20.0,
            start_s: end_s - 0.1,
            end_s,
            host_s: Some(end_s),
            sample_peak_dbfs: level,
            true_peak_dbtp: [level, level - 2.0],
            short_term_lufs: [level - 10.0, level - 11.0],
            overs: u64::from(index % 40_000 == 0),
            stop_s: None,
        });
    }
    history
}
