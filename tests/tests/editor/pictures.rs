//! Pictures of the editor, drawn through a Vulkan driver (one in software will do) and compared
//! with those that somebody looked at. `UPDATE_SNAPSHOTS=1` makes new ones.

use egui::vec2;
use egui_kittest::{Harness, SnapshotOptions, SnapshotResult, SnapshotResults};
use image::RgbaImage;

use crate::software::Software;
use crate::{Scene, entries, fixtures, sum_test};

/// Where the pictures lie, from the root of this crate.
const FOLDER: &str = "tests/editor/pictures";
const SMALL: [f32; 2] = [760.0, 560.0];
const FIRST: [f32; 2] = [1100.0, 760.0];
const LARGE: [f32; 2] = [1800.0, 1200.0];

fn scene(name: &str, dark: bool, settings: bool) -> Scene {
    let fixture = fixtures::all().into_iter().find(|fixture| fixture.name == name);
    let fixture = fixture.unwrap_or_else(|| panic!("no fixture is called {name}"));
    let mut scene = Scene::new(fixture.snapshot, dark);
    scene.state.settings_open = settings;
    if name == "ferry" {
        scene.state.title = "Night ferry, mix bus".into();
    }
    scene
}

#[test]
#[ignore = "needs a Vulkan driver"]
fn the_editor_looks_as_it_did() {
    let mut results = SnapshotResults::new();
    let all: [(&str, [f32; 2], bool, bool); 15] = [
        ("ferry", SMALL, true, false),
        ("ferry", SMALL, false, false),
        ("ferry", FIRST, true, false),
        ("ferry", FIRST, false, false),
        ("ferry", LARGE, true, false),
        ("ferry", LARGE, false, false),
        ("ferry", SMALL, false, true),
        ("ferry", FIRST, true, true),
        ("clean", FIRST, true, false),
        ("nothing", FIRST, false, false),
        ("silence", FIRST, true, false),
        ("noises", FIRST, false, false),
        ("mono", FIRST, true, false),
        ("extreme", SMALL, false, false),
        ("extreme", FIRST, true, false),
    ];
    for (name, size, dark, settings) in all {
        let scene = scene(name, dark, settings);
        let settings = if settings { "-settings" } else { "" };
        let file = format!("{name}-{}{settings}", size_and_theme(size, dark));
        results.add(compare(&file, size, scene));
    }
}

#[test]
#[ignore = "needs a Vulkan driver"]
fn the_entries_look_as_they_did() {
    let mut results = SnapshotResults::new();
    for (size, dark) in [(SMALL, false), (FIRST, true), (LARGE, false)] {
        let file = format!("entries-{}", size_and_theme(size, dark));
        results.add(compare(&file, size, entries::scene(entries::told(), dark)));
    }
}

#[test]
#[ignore = "needs a Vulkan driver"]
fn the_sum_test_looks_as_it_did() {
    let mut results = SnapshotResults::new();
    let all: [([f32; 2], bool, bool); 7] = [
        (SMALL, true, true),
        (SMALL, false, true),
        (FIRST, true, true),
        (FIRST, false, true),
        (LARGE, true, true),
        (LARGE, false, true),
        (FIRST, true, false),
    ];
    for (size, dark, complete) in all {
        let scene = sum_test::bus(complete, dark);
        let state = if complete { "complete" } else { "halfway" };
        let file = format!("sum-test-{state}-{}", size_and_theme(size, dark));
        results.add(compare(&file, size, scene));
    }
    for (size, dark) in [SMALL, FIRST, LARGE].into_iter().flat_map(|s| [(s, true), (s, false)]) {
        let file = format!("sum-test-meter-{}", size_and_theme(size, dark));
        results.add(compare(&file, size, sum_test::saved(dark)));
    }
    for (size, dark) in [(SMALL, false), (FIRST, true)] {
        let file = format!("sum-test-apart-{}", size_and_theme(size, dark));
        results.add(compare(&file, size, sum_test::not_saved(dark)));
    }
    for (size, dark) in [(SMALL, true), (FIRST, false)] {
        let file = format!("sum-test-typing-{}", size_and_theme(size, dark));
        results.add(compare_after(&file, size, sum_test::bus(false, dark), sum_test::typing));
    }
}

#[test]
#[ignore = "needs a Vulkan driver"]
fn the_demo_draws_what_a_graphics_driver_draws() {
    for (dark, pixels_per_point) in [(true, 1.0), (false, 2.0)] {
        let picture = |software: bool| -> RgbaImage {
            let scene = scene("ferry", dark, false);
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
            "dark {dark}: {far} of {} pixels differ by more than 3 of 255, at most {most}",
            pairs().count()
        );
        assert!(far * 10_000 <= pairs().count(), "{far} pixels differ, at most by {most}");
    }
}

/// Draws a scene and compares it with the picture of that name.
fn compare(file: &str, size: [f32; 2], scene: Scene) -> SnapshotResult {
    compare_after(file, size, scene, |_| {})
}

/// The same after something was done on it.
fn compare_after(
    file: &str,
    size: [f32; 2],
    scene: Scene,
    deed: impl FnOnce(&mut Harness<'_, Scene>),
) -> SnapshotResult {
    let mut harness = Harness::builder()
        .with_size(vec2(size[0], size[1]))
        .with_render_cursor(false)
        .wgpu()
        .build_ui_state(|ui, scene: &mut Scene| scene.show_in_window(ui), scene);
    harness.run();
    deed(&mut harness);
    harness.try_snapshot_options(file, &SnapshotOptions::new().output_path(FOLDER))
}

fn size_and_theme(size: [f32; 2], dark: bool) -> String {
    let theme = if dark { "dark" } else { "light" };
    format!("{}x{}-{theme}", size[0], size[1])
}
