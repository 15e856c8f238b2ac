//! No text is cut off, left out or drawn over another, whatever the readings and the window.

use egui::epaint::{ClippedShape, Shape, TextShape};
use egui::{Pos2, RawInput, Rect, Vec2, vec2};
use ledgerline::choices::{Listen, SumTest};
use ledgerline::editor::screen::LEAST_SIZE;
use ledgerline::params::switched_off::SwitchedOff;

use crate::{Scene, entries, fixtures};

/// Windows, in points: the least, the first, a large one, and two of unusual shape.
pub const SIZES: [Vec2; 5] = [
    LEAST_SIZE,
    vec2(1100.0, 760.0),
    vec2(1800.0, 1200.0),
    vec2(900.0, 1100.0),
    vec2(1900.0, 640.0),
];

/// A title that no head has space for: the one text that may be elided.
const LONG_TITLE: &str =
    "A track whose name is far too long for the head of any screen, and still goes on and on";

#[test]
fn every_text_is_whole_and_apart_from_every_other() {
    let mut checked = 0;
    for fixture in fixtures::all() {
        for size in SIZES {
            for settings in [false, true] {
                let mut scene = Scene::new(fixture.snapshot, true);
                scene.state.settings_open = settings;
                checked += check(
                    &mut scene,
                    size,
                    &format!("{} {size:?} settings {settings}", fixture.name),
                );
            }
        }
    }
    assert!(checked > 10_000, "only {checked} texts were seen");
}

#[test]
fn messages_badges_and_a_long_title_find_their_place() {
    for size in SIZES {
        let mut scene = Scene::new(fixtures::ferry(), false);
        scene.state.title = LONG_TITLE.into();
        scene.state.messages =
            vec!["The log cannot be written to /no/such/folder: no such folder.".into()];
        scene.state.frozen = Some(Box::new(scene.snapshot));
        (scene.choices.bypass, scene.choices.log) = (true, true);
        scene.choices.listen = Listen::Hidden;
        check(&mut scene, size, &format!("badges {size:?}"));
        scene.state.switched_off =
            Some(SwitchedOff { listen: Listen::Hidden, feed: SumTest::Feed2 });
        check(&mut scene, size, &format!("switched off {size:?}"));
    }
}

#[test]
fn entries_find_their_place() {
    for size in SIZES {
        for (index, mut scene) in entries::scenes().into_iter().enumerate() {
            check(&mut scene, size, &format!("entries {index} {size:?}"));
        }
    }
}

/// Lays the scene out and checks each text; returns how many there are.
pub fn check(scene: &mut Scene, size: Vec2, name: &str) -> usize {
    let window = Rect::from_min_size(Pos2::ZERO, size);
    let texts = texts(scene, window);
    for (index, (text, place, clip)) in texts.iter().enumerate() {
        let words = text.galley.text();
        let may_be_elided = words.contains(LONG_TITLE);
        assert!(may_be_elided || !text.galley.elided, "{name}: {words:?} is elided");
        let visible = clip.intersect(window).expand(0.6);
        assert!(
            visible.contains_rect(*place),
            "{name}: {words:?} at {place:?} is cut off by {visible:?}"
        );
        for (other, other_place, _) in &texts[..index] {
            let shared = place.shrink(0.6).intersect(other_place.shrink(0.6));
            let other = other.galley.text();
            assert!(!shared.is_positive(), "{name}: {words:?} lies over {other:?} at {shared:?}");
        }
    }
    texts.len()
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
