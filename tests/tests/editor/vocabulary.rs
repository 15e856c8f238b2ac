//! Whatever the editor paints, and whatever it tells a screen reader, is in the product's one
//! vocabulary.

use egui::{Pos2, Rect};
use egui_kittest::kittest::NodeT;
use ledgerline::choices::{Listen, SumTest};
use ledgerline::params::window::{Drawer, Theme};
use ledgerline_measure::Halves;
use ledgerline_tests::vocabulary::check;

use crate::layout::{SIZES, texts};
use crate::{Scene, fixtures, harness, sum_test};

/// Every screen that there is: readings of every kind, each drawer, and the sum test.
fn scenes() -> Vec<Scene> {
    let mut scenes = Vec::new();
    for name in fixtures::ALL {
        for drawer in Drawer::ALL.into_iter().map(Some).chain([None]) {
            let mut scene = Scene::of(name, Theme::Dark).aiming();
            scene.state.drawer = drawer;
            let halves = if drawer.is_some() { Halves::MainSidechain } else { Halves::LeftRight };
            if scene.watched.snapshot.reading.halves != Halves::Mono {
                scene.watched.snapshot.reading.halves = halves;
            }
            scenes.push(scene);
        }
    }
    for listen in [Listen::Audible, Listen::Hidden, Listen::Damage] {
        let mut scene = Scene::of("ferry", Theme::Dark);
        (scene.choices.listen, scene.choices.log, scene.choices.bypass) = (listen, true, true);
        scenes.push(scene);
    }
    for role in [SumTest::Off, SumTest::Feed1, SumTest::Feed2, SumTest::Bus] {
        let mut scene = Scene::of("ferry", Theme::Dark);
        scene.choices.sum_test = role;
        scene.state.drawer = Some(Drawer::SumTest);
        scenes.push(scene);
    }
    let [complete, halfway] = [true, false].map(|complete| sum_test::bus(complete, Theme::Dark));
    scenes.extend([complete, halfway, sum_test::saved(Theme::Dark)]);
    scenes
}

#[test]
fn every_text_on_the_screen_is_in_one_vocabulary() {
    let mut seen = 0;
    for mut scene in scenes() {
        let window = Rect::from_min_size(Pos2::ZERO, SIZES[1]);
        let painted = texts(&mut scene, window);
        seen += check("the screen", painted.iter().map(|(text, ..)| text.galley.text()));
    }
    assert!(seen > 2_000, "{seen} texts");
}

#[test]
fn every_label_for_a_screen_reader_is_in_one_vocabulary() {
    let mut seen = 0;
    for scene in scenes() {
        let mut harness = harness(scene);
        harness.run();
        let nodes = harness.root().children_recursive();
        let labels = nodes.filter_map(|node| node.accesskit_node().label());
        seen += check("a label", labels);
    }
    assert!(seen > 400, "{seen} labels");
}
