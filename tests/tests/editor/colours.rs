//! Every text can be read on what lies behind it, in every theme, and by eyes that see colours
//! otherwise. Contrast follows WCAG 2.1, 1.4.3 (4.5 to 1; high contrast 1.4.6, 7 to 1). Colour blindness
//! is simulated by the matrices of G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A
//! physiologically-based model for simulation of color vision deficiency", 2009 (from memory).

use egui::epaint::{ClippedShape, Shape};
use egui::{Color32, Pos2, RawInput, Rect};
use ledgerline::params::window::{Drawer, Theme};

use crate::layout::SIZES;
use crate::{Scene, fixtures, sum_test};

type Matrix = [[f64; 3]; 3];

/// As most see: nothing is changed.
const USUAL: Matrix = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
/// Without red, without green, without blue receptors.
const WITHOUT: [(&str, Matrix); 3] = [
    (
        "red",
        [
            [0.152_286, 1.052_583, -0.204_868],
            [0.114_503, 0.786_281, 0.099_216],
            [-0.003_882, -0.048_116, 1.051_998],
        ],
    ),
    (
        "green",
        [
            [0.367_322, 0.860_646, -0.227_968],
            [0.280_085, 0.672_501, 0.047_413],
            [-0.011_820, 0.042_940, 0.968_881],
        ],
    ),
    (
        "blue",
        [
            [1.255_528, -0.076_749, -0.178_779],
            [-0.078_411, 0.930_809, 0.147_602],
            [0.004_733, 0.691_367, 0.303_900],
        ],
    ),
];

/// Relative luminance of a colour as it is seen.
fn luminance(colour: [f64; 3], sight: &Matrix) -> f64 {
    let linear = colour.map(|byte| {
        let c = byte / 255.0;
        if c <= 0.03928 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    });
    let seen = sight.map(|row| (0..3).map(|i| row[i] * linear[i]).sum::<f64>().clamp(0.0, 1.0));
    0.2126 * seen[0] + 0.7152 * seen[1] + 0.0722 * seen[2]
}

fn contrast(one: [f64; 3], other: [f64; 3], sight: &Matrix) -> f64 {
    let (one, other) = (luminance(one, sight), luminance(other, sight));
    (one.max(other) + 0.05) / (one.min(other) + 0.05)
}

/// What lies behind a place: everything painted there before, one over the other.
fn behind(painted: &[(Rect, Color32)], place: Pos2) -> [f64; 3] {
    painted.iter().filter(|(rect, _)| rect.contains(place)).fold([0.0; 3], |ground, (_, over)| {
        let rest = 1.0 - f64::from(over.a()) / 255.0;
        let [r, g, b] = ground;
        [
            f64::from(over.r()) + rest * r,
            f64::from(over.g()) + rest * g,
            f64::from(over.b()) + rest * b,
        ]
    })
}

fn walk(
    shape: Shape,
    painted: &mut Vec<(Rect, Color32)>,
    found: &mut impl FnMut(&str, Color32, [f64; 3]),
) {
    match shape {
        Shape::Vec(shapes) => shapes.into_iter().for_each(|shape| walk(shape, painted, found)),
        Shape::Rect(rect) if rect.fill != Color32::TRANSPARENT => {
            painted.push((rect.rect, rect.fill))
        }
        Shape::Text(text) if !text.galley.text().trim().is_empty() => {
            let place = text.galley.mesh_bounds.translate(text.pos.to_vec2());
            let sections = &text.galley.job.sections;
            let colour =
                text.override_text_color.unwrap_or_else(|| match sections[0].format.color {
                    Color32::PLACEHOLDER => text.fallback_color,
                    colour => colour,
                });
            // What is switched off is fainter by intent.
            if text.opacity_factor >= 1.0 {
                found(text.galley.text(), colour, behind(painted, place.center()));
            }
        }
        _ => {}
    }
}

/// All that is painted, in order.
fn shapes(scene: &mut Scene) -> Vec<ClippedShape> {
    let context = egui::Context::default();
    let mut shapes = Vec::new();
    for frame in 0..3 {
        let input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, SIZES[3])),
            time: Some(f64::from(frame)),
            ..RawInput::default()
        };
        let output = context.run_ui(input, |ui| scene.show(ui));
        shapes.clone_from(&output.shapes);
        output.drop_without_applying_deltas();
    }
    shapes
}

#[test]
fn every_text_can_be_read_by_everybody() {
    let mut seen = 0;
    for theme in Theme::ALL {
        let least = if theme == Theme::Contrast { 7.0 } else { 4.5 };
        let mut scenes: Vec<Scene> =
            fixtures::ALL.into_iter().map(|name| Scene::of(name, theme)).collect();
        scenes.extend(Drawer::ALL.into_iter().map(|drawer| {
            let mut scene = Scene::of("ferry", theme).aiming();
            scene.state.drawer = Some(drawer);
            scene
        }));
        scenes.push(sum_test::bus(true, theme));
        for mut scene in scenes {
            let mut painted = Vec::new();
            for ClippedShape { shape, .. } in shapes(&mut scene) {
                walk(shape, &mut painted, &mut |words, colour, ground| {
                    seen += 1;
                    let colour = [colour.r(), colour.g(), colour.b()].map(f64::from);
                    let ratio = contrast(colour, ground, &USUAL);
                    assert!(ratio >= least, "{theme:?}: {words:?} on {ground:?}: {ratio:.2} to 1");
                    for (receptors, sight) in &WITHOUT {
                        let ratio = contrast(colour, ground, sight);
                        assert!(
                            ratio >= 4.5,
                            "{theme:?}, without {receptors}: {words:?}: {ratio:.2}"
                        );
                    }
                });
            }
        }
    }
    assert!(seen > 3_000, "{seen} texts");
}
