//! Plays the demo through the built CLAP file in a headless host, prints the ledger and what it
//! found, and leaves files to listen to and to look at.
//!
//! Every number printed was logged by the plugin and read again by the measures in this process
//! from the same samples; the demo fails if the two differ in any digit.

mod finding;
mod ledger;
mod player;
pub mod wav;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use anyhow::{Context, Result};
use ledgerline::choices::Choices;
use ledgerline::params::window::Theme;
use ledgerline_tests::alone::LOG_VARIABLE;
use ledgerline_tests::signals::ferry;
use ledgerline_tests::watched;

use crate::bundle;
use crate::flags::DemoFlags;
use crate::picture;
use crate::run;
use crate::workspace::Workspace;
use player::{Played, Player};

/// Size of the editor's picture, in points.
const PICTURE_POINTS: egui::Vec2 = egui::vec2(1180.0, 760.0);
/// Pixels of the picture a point.
const PIXELS_PER_POINT: f32 = 2.0;

/// `cargo xtask demo`
///
/// # Errors
///
/// When the build fails, the plugin does, the readings differ, or a file cannot be written.
pub fn run(flags: &DemoFlags) -> Result<()> {
    let workspace = Workspace::find()?;
    let folder = workspace.target.join("demo");
    if flags.play_only {
        return play(&workspace, &folder);
    }
    bundle::build(&workspace)?;
    let log = folder.join("log");
    bundle::remove(&log)?;
    fs::create_dir_all(&log)?;
    // The plugin reads the log folder from its environment, which only a new process can have.
    run::check(
        Command::new(std::env::current_exe()?)
            .args(["demo", "--play-only"])
            .env(LOG_VARIABLE, &log),
    )
}

fn play(workspace: &Workspace, folder: &Path) -> Result<()> {
    let log = std::env::var_os(LOG_VARIABLE).context("no log folder in the environment")?;
    let player = Player { bundle: workspace.bundled().join("ledgerline.clap"), log: log.into() };
    let played = play_the_ferry(&player, folder)?;
    finding::play(&player, folder)?;
    print_files(workspace, folder)?;
    print_sentences("The night ferry, in short", &played);
    Ok(())
}

/// The first track, with its ledger, its record and its picture.
fn play_the_ferry(player: &Player, folder: &Path) -> Result<Played> {
    run::announce("The night ferry: a minute of a documentary, 96 kHz");
    let mix = player::with_progress("Making the mix", ferry::play);
    wav::write(&folder.join("night-ferry.wav"), &mix)?;
    let played = player.play("Playing it through the built CLAP plugin", &mix)?;
    let record = serde_json::to_string_pretty(&played.logged)?;
    fs::write(folder.join("reading.json"), record + "\n")?;
    let picture = player::with_progress("Drawing the editor", || {
        picture::render(
            PICTURE_POINTS,
            PIXELS_PER_POINT,
            Theme::Dark,
            &watched::watch(&mix),
            &Choices::default(),
        )
    })?;
    fs::write(folder.join("editor.png"), picture)?;
    println!("\n{}", ledger::table(&played.snapshot.reading));
    println!("{}", ledger::room(&played.snapshot.reading));
    print_sentences("What the plugin found", &played);
    Ok(played)
}

fn print_sentences(title: &str, played: &Played) {
    println!("{title}:");
    for finding in played.snapshot.reading.findings.as_slice() {
        println!("  * {}", finding.sentence());
    }
    println!();
}

fn print_files(workspace: &Workspace, folder: &Path) -> Result<()> {
    println!("Files to listen to and to look at:");
    let mut files: Vec<PathBuf> = fs::read_dir(folder)?
        .map(|entry| entry.map(|entry| entry.path()))
        .collect::<std::io::Result<_>>()?;
    files.sort();
    for file in files {
        println!("  {}", workspace.short(&file).display());
    }
    println!();
    Ok(())
}
