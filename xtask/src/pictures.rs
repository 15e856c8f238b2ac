//! Draws the editor's pictures for the manual: the demo's first track, dark and light.

use std::fs;

use anyhow::Result;
use ledgerline::choices::Choices;
use ledgerline_tests::signals::ferry;

use crate::measured::measure;
use crate::picture;
use crate::run::announce;
use crate::workspace::Workspace;

/// Pictures: file name, size in points, pixels a point, dark or light.
const PICTURES: [(&str, egui::Vec2, f32, bool); 3] = [
    ("editor-dark.png", egui::vec2(1180.0, 760.0), 2.0, true),
    ("editor-light.png", egui::vec2(1180.0, 760.0), 2.0, false),
    ("editor-small.png", egui::vec2(820.0, 560.0), 2.0, true),
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
    let snapshot = measure(&ferry::play())?;
    for (name, points, pixels_per_point, dark) in PICTURES {
        let picture =
            picture::render(points, pixels_per_point, dark, &snapshot, &Choices::default())?;
        let path = folder.join(name);
        fs::write(&path, picture)?;
        println!("{}", workspace.short(&path).display());
    }
    Ok(())
}
