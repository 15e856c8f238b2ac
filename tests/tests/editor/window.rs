//! The editor's window inside a host's, on an X server of the test's own. `cargo xtask test` runs
//! these where the machine has the programs.

use std::path::{Path, PathBuf};

use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use ledgerline::choices::Choices;
use ledgerline::editor::screen::{self, Given, ScreenState};
use ledgerline::handover::Snapshot;
use ledgerline::history::History;
use ledgerline::params::window::Theme;
use ledgerline_tests::alone::{Environment, alone_with};
use ledgerline_tests::built::BuiltFor;
use ledgerline_tests::desktop::Desktop;
use ledgerline_tests::hosts::{ClapHost, Host};

/// A display that no other test has, and a driver that needs no graphics card.
fn on_a_display(_: &Path) -> Environment {
    let number = 200 + std::process::id() % 10_000;
    vec![
        ("DISPLAY", Some(PathBuf::from(format!(":{number}")))),
        ("LIBGL_ALWAYS_SOFTWARE", Some(PathBuf::from("1"))),
    ]
}

/// Space is the transport key of most hosts. Wherever the pointer stands and whatever was clicked,
/// it reaches the host, except while a number is typed.
#[test]
#[ignore = "needs Xvfb, openbox and xdotool"]
fn keys_that_nothing_here_uses_reach_the_host() {
    alone_with(on_a_display, |_| {
        let desktop = Desktop::start();
        let size = screen::FIRST_SIZE;
        // A strip of the host's own is left below the plugin.
        let mut window = desktop.host_window(size.x as u16, size.y as u16 + 60);
        let mut host = ClapHost::load(&ClapHost::built()).expect("the plugin");
        host.open_window(window.number()).expect("a window");
        let (number, [settings, field, nowhere]) = (window.number(), places());
        let outside = [size.x as i32 / 2, size.y as i32 + 30];
        let click = |place| {
            desktop.point(number, place);
            desktop.click();
        };
        let mut heard = 0;
        let mut press = |key: &str, reaches: bool, when: &str| {
            desktop.press(key);
            heard += usize::from(reaches);
            assert_eq!(
                window.keys(),
                heard,
                "keys that the host got once {key} was pressed {when}"
            );
        };

        click(outside);
        press("space", true, "with the pointer over the host");
        desktop.point(number, nowhere);
        press("space", true, "with the pointer over the plugin");
        click(nowhere);
        press("space", true, "after a click into the plugin");
        click(settings);
        press("space", true, "after a button was clicked");
        click(field);
        press("3", false, "while a number is typed");
        press("Return", false, "at the end of a number");
        press("space", true, "after a number was typed");
        click(field);
        press("4", false, "while a number is typed again");
        click(nowhere);
        press("space", true, "after a click beside the number");
        desktop.point(number, outside);
        press("space", true, "with the pointer over the host again");
        host.close_window();
        press("space", true, "after the window was closed");
    });
}

/// Where the settings' button stands in the window, where a number can be typed once they are open,
/// and where nothing is.
fn places() -> [[i32; 2]; 3] {
    let state = (Choices::default(), ScreenState::new(Theme::Dark));
    let mut harness = Harness::builder().with_size(screen::FIRST_SIZE).build_ui_state(
        |ui, (choices, state): &mut (Choices, ScreenState)| {
            let window = ui.ctx().content_rect();
            let mut whole = ui.new_child(egui::UiBuilder::new().max_rect(window));
            let (snapshot, history) = (Snapshot::default(), History::default());
            let given = Given { snapshot: &snapshot, history: &history };
            screen::show(&mut whole, given, choices, state);
        },
        state,
    );
    let centre = |rect: egui::Rect| [rect.center().x as i32, rect.center().y as i32];
    let settings = harness.get_by_label("Settings");
    let settings_place = centre(settings.rect());
    settings.click();
    harness.run();
    let fields = harness.query_all_by_role(egui::accesskit::Role::SpinButton);
    let field = centre(fields.into_iter().next().expect("a number").rect());
    // The lower edge belongs to nothing.
    let nowhere = [screen::FIRST_SIZE.x as i32 / 2, screen::FIRST_SIZE.y as i32 - 3];
    [settings_place, field, nowhere]
}
