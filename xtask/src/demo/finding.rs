//! The second track: somebody switches two noises in the middle of a stereo bus. A held sample peak adds
//! them like identical signals, the ear like independent ones.

use std::path::Path;

use anyhow::{Context, Result, ensure};
use ledgerline_measure::entries::{Clock, Entries, Entry};
use ledgerline_measure::{Settings, View, words};
use ledgerline_tests::signals::Stereo;
use ledgerline_tests::signals::switching::{Kind, Panning, Sources, Switching};
use serde_json::Value;

use super::player::Player;
use super::wav;
use crate::run;

/// Sample peak of each noise, in dBFS.
const PEAK_DBFS: f64 = -10.0;
/// Between two switches, in seconds.
const EACH_S: f64 = 6.0;
/// What is switched, one after the other.
const STATES: [(Sources, &str); 6] = [
    (Sources::Alone(0.0), "one noise"),
    (Sources::Same, "the same twice"),
    (Sources::Independent, "two different ones"),
    (Sources::Same, "the same twice"),
    (Sources::Copy(0.05, 0.0), "one 50 ms late"),
    (Sources::Inverted, "one inverted"),
];
/// Width of a paragraph, in characters.
const WIDTH: usize = 96;

/// Plays it, and prints what the plugin logged of it.
///
/// # Errors
///
/// When the plugin fails, its entries are not those of the samples, or a file cannot be written.
pub fn play(player: &Player, folder: &Path) -> Result<()> {
    run::announce(&format!(
        "The finding: two uniform noises at {} dBFS in the middle of one bus, switched every {} s",
        words::plain(PEAK_DBFS),
        words::plain(EACH_S)
    ));
    let states = STATES.map(|(sources, _)| sources);
    let switching = Switching {
        kind: Kind::Uniform,
        peak_dbfs: PEAK_DBFS,
        rate_hz: 48_000.0,
        each_s: EACH_S,
        states: &states,
    };
    let track = switching.play(Panning::Middle);
    wav::write(&folder.join("finding.wav"), &track)?;
    let played = player.play("Playing it through the built CLAP plugin", &track)?;
    check(&played.entries, &track)?;
    println!("\n{}", table(&played.entries)?);
    println!("What the plugin says where each begins:\n");
    for entry in &played.entries {
        print_change(entry)?;
    }
    Ok(())
}

/// Finds the entries of the same samples without the plugin: they have to be the same.
fn check(logged: &[Value], track: &Stereo) -> Result<()> {
    let mut entries = Entries::new(track.rate_hz, 2, 0, Settings::default(), View::default())?;
    entries.take(&track.channels(), &[], Clock::default());
    entries.finish();
    let sentence = |entry: &Entry| entry.change.as_ref().map(|change| change.sentence.clone());
    let expected: Vec<_> = entries.list().iter().map(|e| (e.start_s, sentence(e))).collect();
    let got: Vec<_> = logged
        .iter()
        .map(|entry| {
            let sentence = entry["change"]["sentence"].as_str().map(str::to_owned);
            Some((entry["start_s"].as_f64()?, sentence))
        })
        .collect::<Option<_>>()
        .context("a logged entry has no beginning")?;
    ensure!(got == expected, "the plugin's entries are not those of the samples");
    eprintln!("    the logged entries are those of the samples");
    Ok(())
}

/// What meters show in each entry.
fn table(entries: &[Value]) -> Result<String> {
    let mut text = format!(
        "{:<4}{:<20}{:>14}{:>12}{:>12} |{:>14}{:>14}\n",
        "", "on the bus", "sample peak", "true peak", "RMS", "sample peak", "RMS"
    );
    text += &format!(
        "{:<24}{:>14}{:>12}{:>12} |{:>14}{:>14}\n",
        "", "whole dBFS", "whole dBTP", "whole dBFS", "audible dBFS", "audible dBFS"
    );
    for entry in entries {
        let start_s = entry["start_s"].as_f64().context("no beginning")?;
        let state = (start_s / EACH_S).round() as usize;
        let name = STATES.get(state).map_or("", |(_, name)| name);
        let cell = |place: &str| match entry.pointer(&format!("/levels/{place}")) {
            Some(Value::Number(db)) => words::fixed(db.as_f64().unwrap_or(f64::NAN), 2),
            Some(Value::String(_)) => "−∞".into(),
            _ => words::NONE.into(),
        };
        text += &format!(
            "{:<4}{name:<20}{:>14}{:>12}{:>12} |{:>14}{:>14}\n",
            entry["entry"],
            cell("whole/bus/sample_peak"),
            cell("whole/bus/true_peak"),
            cell("whole/bus/rms"),
            cell("audible/bus/sample_peak"),
            cell("audible/bus/rms"),
        );
    }
    Ok(text)
}

fn print_change(entry: &Value) -> Result<()> {
    let Some(sentence) = entry["change"]["sentence"].as_str() else { return Ok(()) };
    let start_s = entry["start_s"].as_f64().context("no beginning")?;
    println!("  {} at {}", entry["entry"], words::moment(start_s, 2));
    for line in textwrap::wrap(sentence, WIDTH) {
        println!("    {line}");
    }
    println!();
    Ok(())
}
