//! A frame, laid out and tessellated, takes at most a millisecond in a release build:
//! `cargo test --release --workspace --test editor frame_time`.

use std::time::{Duration, Instant};

use egui::{Pos2, RawInput, Rect, vec2};

use ledgerline::history::Span;
use ledgerline::params::window::{Drawer, Theme};

use crate::{Scene, sum_test};

const FRAMES: usize = 400;
const MOST: Duration = Duration::from_millis(1);

#[test]
fn a_frame_takes_at_most_a_millisecond() {
    let drawn = |name: &'static str, drawer| {
        let mut scene = Scene::of(name, Theme::Dark);
        scene.state.drawer = drawer;
        scene.state.time.span = Span::Everything;
        (name, scene)
    };
    let all = [
        drawn("live", None),
        drawn("ferry", Some(Drawer::Ledger)),
        drawn("noises", Some(Drawer::Settings)),
        ("sum test", sum_test::saved(Theme::Dark)),
    ];
    for (name, mut scene) in all {
        let mut times = frames(&mut scene);
        times.sort();
        let median = times[FRAMES / 2];
        println!("{name}: least {:?}, median {median:?} a frame", times[0]);
        assert!(median <= MOST, "{name}: {median:?}");
    }
}

/// Time of each frame, with readings that move as they do while audio plays.
fn frames(scene: &mut Scene) -> Vec<Duration> {
    let context = egui::Context::default();
    let window = Rect::from_min_size(Pos2::ZERO, vec2(1100.0, 760.0));
    (0..FRAMES)
        .map(|frame| {
            stir(scene, if frame % 14 < 7 { 0.1 } else { -0.1 });
            let time = Some(frame as f64 / 60.0);
            let input = RawInput { screen_rect: Some(window), time, ..RawInput::default() };
            let start = Instant::now();
            let mut output = context.run_ui(input, |ui| scene.show(ui));
            let shapes = std::mem::take(&mut output.shapes);
            let primitives = context.tessellate(shapes, output.pixels_per_point);
            let time = start.elapsed();
            assert!(!primitives.is_empty());
            output.drop_without_applying_deltas();
            time
        })
        .collect()
}

fn stir(scene: &mut Scene, by_db: f64) {
    let reading = &mut scene.watched.snapshot.reading;
    for band in [&mut reading.whole, &mut reading.audible] {
        for levels in [&mut band.a, &mut band.b, &mut band.sum, &mut band.bus] {
            levels.momentary_lufs = levels.momentary_lufs.plus(by_db);
            levels.short_term_lufs = levels.short_term_lufs.plus(by_db);
            levels.integrated_lufs = levels.integrated_lufs.plus(by_db);
        }
    }
    scene.watched.snapshot.spectrum.now_dbfs.iter_mut().for_each(|level| *level += by_db as f32);
}
