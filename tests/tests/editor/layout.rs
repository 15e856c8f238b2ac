//! No text is cut off, left out or drawn over another, whatever the readings and the window.

use egui::epaint::{ClippedShape, Shape, TextShape};
use egui::{Pos2, RawInput, Rect, Vec2, vec2};
use ledgerline::choices::{Listen, SumTest};
use ledgerline::editor::screen::{LEAST_SIZE, Past};
use ledgerline::history::Span;
use ledgerline::params::switched_off::SwitchedOff;
use ledgerline::params::window::{Drawer, Theme};

use crate::{Scene, entries, fixtures};

/// Windows, in points: the least, small ones, the first, a large one, and some of unusual shape.
pub const SIZES: [Vec2; 8] = [
    LEAST_SIZE,
    vec2(700.0, 240.0),
    vec2(760.0, 560.0),
    vec2(1100.0, 760.0),
    vec2(1800.0, 1200.0),
    vec2(900.0, 1100.0),
    vec2(1900.0, 640.0),
    vec2(690.0, 420.0),
];

/// A title that no head has space for: with a name of a track, the one text that may be elided.
const LONG_TITLE: &str =
    "A track whose name is far too long for the head of any screen, and still goes on and on";
/// No text is smaller, in points.
const LEAST_TEXT_POINTS: f32 = 11.0;

#[test]
fn every_text_is_whole_large_enough_and_apart_from_every_other() {
    let mut checked = Checked::default();
    for name in fixtures::ALL {
        for size in SIZES {
            for drawer in Drawer::ALL.into_iter().map(Some).chain([None]) {
                let mut scene = Scene::of(name, Theme::Dark);
                scene.state.drawer = drawer;
                if size.x > 800.0 {
                    scene = scene.aiming();
                }
                checked.check(&mut scene, size, &format!("{name} {drawer:?}"));
            }
        }
    }
    checked.conclude(20_000);
}

#[test]
fn messages_badges_and_a_long_title_find_their_place() {
    let mut checked = Checked::default();
    for size in SIZES {
        let mut scene = Scene::of("ferry", Theme::Light);
        scene.state.title = LONG_TITLE.into();
        scene.state.messages =
            vec!["The log cannot be written to /no/such/folder: no such folder.".into()];
        scene.state.undo_s = Some(8.0);
        (scene.choices.bypass, scene.choices.log) = (true, true);
        scene.choices.listen = Listen::Hidden;
        checked.check(&mut scene, size, "badges");
        scene.state.switched_off =
            Some(SwitchedOff { listen: Listen::Hidden, feed: SumTest::Feed2 });
        checked.check(&mut scene, size, "switched off");
    }
    checked.conclude(100);
}

#[test]
fn the_past_and_every_span_find_their_place() {
    let mut checked = Checked::default();
    for size in SIZES {
        for (name, at_s) in [("noises", 9.0), ("live", 700.0), ("reset", 30.0)] {
            for span in Span::ALL {
                let mut scene = Scene::of(name, Theme::Dark);
                scene.state.time.span = span;
                scene.state.past = scene.watched.history.moments.nearest(at_s).map(Past::moment);
                checked.check(&mut scene, size, &format!("{name} {span:?}"));
            }
        }
    }
    checked.conclude(1_000);
}

#[test]
fn entries_find_their_place() {
    let mut checked = Checked::default();
    for size in SIZES {
        for (index, mut scene) in entries::scenes().into_iter().enumerate() {
            checked.check(&mut scene, size, &format!("entries {index}"));
        }
    }
    checked.conclude(500);
}

/// Problems that were found, and how many texts were seen.
#[derive(Default)]
pub struct Checked {
    problems: Vec<String>,
    seen: usize,
}

/// Most problems that are told.
const MOST_TOLD: usize = 40;

impl Checked {
    /// Lays the scene out and checks each text.
    pub fn check(&mut self, scene: &mut Scene, size: Vec2, name: &str) {
        let window = Rect::from_min_size(Pos2::ZERO, size);
        let texts = texts(scene, window);
        self.seen += texts.len();
        let mut problem = |what: String| self.problems.push(format!("{name} {size:?}: {what}"));
        for (index, (text, place, clip)) in texts.iter().enumerate() {
            let words = text.galley.text();
            if text.galley.elided && !words.contains(LONG_TITLE) {
                problem(format!("{words:?} is elided"));
            }
            let least = text.galley.job.sections.iter().map(|section| section.format.font_id.size);
            let least = least.fold(f32::INFINITY, f32::min);
            if least < LEAST_TEXT_POINTS {
                problem(format!("{words:?} is {least} points high"));
            }
            let visible = clip.intersect(window).expand(0.6);
            if !visible.contains_rect(*place) {
                problem(format!("{words:?} at {place:?} is cut off by {visible:?}"));
            }
            for (other, other_place, _) in &texts[..index] {
                let shared = place.shrink(0.6).intersect(other_place.shrink(0.6));
                if shared.is_positive() {
                    problem(format!("{words:?} lies over {:?} at {shared:?}", other.galley.text()));
                }
            }
        }
    }

    /// Fails where there were problems, or too few texts to see any.
    pub fn conclude(self, least_seen: usize) {
        let Self { problems, seen } = self;
        let told = problems.iter().take(MOST_TOLD).map(String::as_str).collect::<Vec<_>>();
        assert!(problems.is_empty(), "{} problems:\n{}", problems.len(), told.join("\n"));
        assert!(seen > least_seen, "only {seen} texts were seen");
    }
}

/// All texts of the settled screen: the shape, what of it is inked, and what clips it.
pub fn texts(scene: &mut Scene, window: Rect) -> Vec<(TextShape, Rect, Rect)> {
    let context = egui::Context::default();
    let mut shapes = Vec::new();
    for frame in 0..4 {
        let input = RawInput {
            screen_rect: Some(window),
            time: Some(f64::from(frame)),
            ..RawInput::default()
        };
        let output = context.run_ui(input, |ui| scene.show(ui));
        shapes.clone_from(&output.shapes);
        output.drop_without_applying_deltas();
    }
    let mut texts = Vec::new();
    for ClippedShape { clip_rect, shape, .. } in shapes {
        collect(shape, clip_rect, &mut texts);
    }
    texts
}

fn collect(shape: Shape, clip: Rect, texts: &mut Vec<(TextShape, Rect, Rect)>) {
    match shape {
        Shape::Vec(shapes) => shapes.into_iter().for_each(|shape| collect(shape, clip, texts)),
        Shape::Text(text) if !text.galley.text().trim().is_empty() => {
            let place = text.galley.mesh_bounds.translate(text.pos.to_vec2());
            texts.push((text, place, clip));
        }
        _ => {}
    }
}
