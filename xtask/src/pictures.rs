//! Draws the editor's pictures for the manual: the demo's first track, dark and light.

use std::fs;

use anyhow::Result;
use ledgerline::choices::Choices;
use ledgerline::params::window::Theme;
use ledgerline_tests::signals::ferry;
use ledgerline_tests::watched;

use crate::picture;
use crate::run::announce;
use crate::workspace::Workspace;

/// Pictures: file name, size in points, pixels a point, colours.
const PICTURES: [(&str, egui::Vec2, f32, Theme); 3] = [
    ("editor-dark.png", egui::vec2(1180.0, 760.0), 2.0, Theme::Dark),
    ("editor-light.png", egui::vec2(1180.0, 760.0), 2.0, Theme::Light),
    ("editor-small.png", egui::vec2(480.0, 160.0), 2.0, Theme::Dark),
];

/// `cargo xtask pictures`
///
/// # Errors
///
/// When a picture cannot be drawn or written.
pub fn run() -> Result<()> {
    let workspace = Workspace::find()?;
    let folder = workspace.root.join("docs").join("pictures");
    fs::create_dir_all(&folder)?;
    announce("Measuring the night ferry");
    let watched = watched::watch(&ferry::play());
    for (name, points, pixels_per_point, theme) in PICTURES {
        let picture =
            picture::render(points, pixels_per_point, theme, &watched, &Choices::default())?;
        let path = folder.join(name);
        fs::write(&path, picture)?;
        println!("{}", workspace.short(&path).display());
    }
    Ok(())
}
