//! Pictures of the editor, drawn through a Vulkan driver (one in software will do) and compared
//! with those that somebody looked at. `UPDATE_SNAPSHOTS=1` makes new ones.

use egui::vec2;
use egui_kittest::{Harness, SnapshotOptions, SnapshotResult, SnapshotResults};
use image::RgbaImage;
use ledgerline::choices::Listen;
use ledgerline::editor::screen::Past;
use ledgerline::history::Span;
use ledgerline::params::window::{Drawer, Theme};

use crate::software::Software;
use crate::{Scene, fixtures, sum_test};

/// Where the pictures lie, from the root of this crate.
const FOLDER: &str = "tests/editor/pictures";
const COMPACT: [f32; 2] = [480.0, 160.0];
const SMALL: [f32; 2] = [760.0, 560.0];
const FIRST: [f32; 2] = [1100.0, 760.0];
const LARGE: [f32; 2] = [1800.0, 1200.0];
const SIZES: [[f32; 2]; 4] = [COMPACT, SMALL, FIRST, LARGE];

fn scene(name: &str, theme: Theme) -> Scene {
    let mut scene = Scene::of(name, theme);
    if name == "ferry" {
        scene.state.title = "Night ferry, mix bus".into();
        return scene.aiming();
    }
    scene
}

#[test]
#[ignore = "needs a Vulkan driver"]
fn every_state_looks_as_it_did() {
    let mut results = SnapshotResults::new();
    for name in fixtures::ALL {
        for (size, theme) in
            SIZES.into_iter().zip([Theme::Light, Theme::Dark, Theme::Dark, Theme::Light])
        {
            let file = format!("{name}-{}", size_and_theme(size, theme));
            results.add(compare(&file, size, scene(name, theme)));
        }
    }
    for theme in [Theme::Light, Theme::Contrast] {
        let file = format!("ferry-{}", size_and_theme(FIRST, theme));
        results.add(compare(&file, FIRST, scene("ferry", theme)));
    }
}

#[test]
#[ignore = "needs a Vulkan driver"]
fn every_drawer_looks_as_it_did() {
    let mut results = SnapshotResults::new();
    for drawer in Drawer::ALL.into_iter().filter(|drawer| *drawer != Drawer::SumTest) {
        let name = match drawer {
            Drawer::Entries => "noises",
            Drawer::YourMeter => "yours",
            _ => "ferry",
        };
        for (size, theme) in [(SMALL, Theme::Light), (FIRST, Theme::Dark), (LARGE, Theme::Dark)] {
            let mut scene = scene(name, theme);
            scene.state.drawer = Some(drawer);
            let word = drawer.word().to_lowercase().replace(' ', "-");
            let file = format!("drawer-{word}-{}", size_and_theme(size, theme));
            results.add(compare(&file, size, scene));
        }
    }
}

#[test]
#[ignore = "needs a Vulkan driver"]
fn other_moments_look_as_they_did() {
    let mut results = SnapshotResults::new();
    let mut past = scene("noises", Theme::Dark);
    past.state.past = past.watched.history.moments.nearest(9.0).map(Past::moment);
    let mut all = scene("live", Theme::Light);
    all.state.time.span = Span::Everything;
    let mut frozen = scene("loud", Theme::Dark);
    frozen.choices.listen = Listen::Hidden;
    frozen.state.messages = vec!["The log cannot be written: no such folder.".into()];
    frozen.state.undo_s = Some(7.2);
    for (name, scene) in [("past", past), ("everything", all), ("badges", frozen)] {
        results.add(compare(name, FIRST, scene));
    }
}

#[test]
#[ignore = "needs a Vulkan driver"]
fn the_sum_test_looks_as_it_did() {
    let mut results = SnapshotResults::new();
    for (size, theme, complete) in [
        (SMALL, Theme::Dark, true),
        (FIRST, Theme::Dark, true),
        (LARGE, Theme::Light, true),
        (FIRST, Theme::Light, false),
    ] {
        let scene = sum_test::bus(complete, theme);
        let state = if complete { "complete" } else { "halfway" };
        let file = format!("sum-test-{state}-{}", size_and_theme(size, theme));
        results.add(compare(&file, size, scene));
    }
    for (size, theme) in [(SMALL, Theme::Light), (FIRST, Theme::Dark)] {
        let file = format!("sum-test-meter-{}", size_and_theme(size, theme));
        results.add(compare(&file, size, sum_test::saved(theme)));
    }
    let file = format!("sum-test-typing-{}", size_and_theme(FIRST, Theme::Light));
    let scene = sum_test::bus(false, Theme::Light);
    results.add(compare_after(&file, FIRST, scene, 1.0, sum_test::typing));
}

#[test]
#[ignore = "needs a Vulkan driver"]
fn twice_the_pixels_look_as_they_did() {
    let mut results = SnapshotResults::new();
    for (name, size, theme) in [("ferry", SMALL, Theme::Dark), ("noises", COMPACT, Theme::Dark)] {
        let file = format!("{name}-{}-200", size_and_theme(size, theme));
        results.add(compare_after(&file, size, scene(name, theme), 2.0, |_| {}));
    }
}

#[test]
#[ignore = "needs a Vulkan driver"]
fn the_demo_draws_what_a_graphics_driver_draws() {
    for (theme, pixels_per_point) in [(Theme::Dark, 1.0), (Theme::Light, 2.0)] {
        let picture = |software: bool| -> RgbaImage {
            let scene = scene("ferry", theme);
            let builder = Harness::builder()
                .with_size(vec2(FIRST[0], FIRST[1]))
                .with_pixels_per_point(pixels_per_point)
                .with_render_cursor(false);
            let builder = if software { builder.renderer(Software::new()) } else { builder.wgpu() };
            let mut harness =
                builder.build_ui_state(|ui, scene: &mut Scene| scene.show_in_window(ui), scene);
            harness.run();
            harness.render().unwrap_or_else(|error| panic!("software {software}: {error}"))
        };
        let (by_processor, by_driver) = (picture(true), picture(false));
        assert_eq!(by_processor.dimensions(), by_driver.dimensions());
        let pairs = || by_processor.pixels().zip(by_driver.pixels());
        let distance = |(a, b): (&image::Rgba<u8>, &image::Rgba<u8>)| {
            (0..4).map(|i| a.0[i].abs_diff(b.0[i])).max().unwrap_or(0)
        };
        let far = pairs().filter(|pair| distance(*pair) > 3).count();
        let most = pairs().map(distance).max().unwrap_or(0);
        println!(
            "{theme:?}: {far} of {} pixels differ by more than 3 of 255, at most {most}",
            pairs().count()
        );
        assert!(far * 10_000 <= pairs().count(), "{far} pixels differ, at most by {most}");
    }
}

/// Draws a scene and compares it with the picture of that name.
fn compare(file: &str, size: [f32; 2], scene: Scene) -> SnapshotResult {
    compare_after(file, size, scene, 1.0, |_| {})
}

/// The same after something was done on it.
fn compare_after(
    file: &str,
    size: [f32; 2],
    scene: Scene,
    pixels_per_point: f32,
    deed: impl FnOnce(&mut Harness<'_, Scene>),
) -> SnapshotResult {
    let mut harness = Harness::builder()
        .with_size(vec2(size[0], size[1]))
        .with_pixels_per_point(pixels_per_point)
        .with_render_cursor(false)
        .wgpu()
        .build_ui_state(|ui, scene: &mut Scene| scene.show_in_window(ui), scene);
    harness.run();
    deed(&mut harness);
    harness.try_snapshot_options(file, &SnapshotOptions::new().output_path(FOLDER))
}

fn size_and_theme(size: [f32; 2], theme: Theme) -> String {
    let theme = match theme {
        Theme::Dark => "dark",
        Theme::Light => "light",
        Theme::Contrast => "contrast",
    };
    format!("{}x{}-{theme}", size[0], size[1])
}
