//! Options, checked against each other.

use std::collections::HashSet;
use std::path::Path;

use anyhow::{Context, Result, anyhow, bail};
use ledgerline_measure::sum_test::identification::usual_resolution_db;
use ledgerline_measure::sum_test::{NoiseKind, Played, ShownReading};

use crate::options::MeterOptions;
use crate::options::meter::{PlayedWord, Word, readings};

/// One meter.
pub(super) struct Meter {
    /// Its name, if it has one.
    pub name: Option<String>,
    /// What it showed, in the order in which it was read.
    pub readings: Vec<ShownReading>,
}

/// See the module.
pub(super) struct Plan {
    pub meters: Vec<Meter>,
    pub played: Played,
    /// Whether what was played is not known from the options.
    pub assumed: bool,
    pub rate_hz: u32,
    pub resolution_db: f64,
}

impl Plan {
    pub(super) fn new(options: &MeterOptions) -> Result<Self> {
        let meters = meters(options)?;
        let all = || meters.iter().flat_map(|meter| &meter.readings);
        let of_noises = all().all(|reading| Played::Own(None).has(reading.step));
        let noise = options.noise;
        let played = match options.played {
            Some(PlayedWord::Schedule) if noise.is_some() => {
                bail!("the sum test plays its own noises: leave --noise out");
            }
            Some(PlayedWord::Schedule) => Played::Schedule,
            Some(PlayedWord::Loop) => Played::Loop(noise.unwrap_or(NoiseKind::Uniform)),
            Some(PlayedWord::Own) => Played::Own(noise),
            None if of_noises || noise.is_some() => Played::Own(noise),
            None => Played::Schedule,
        };
        let usual = || usual_resolution_db(all().map(|reading| reading.shown_db));
        let resolution_db = options.resolution.unwrap_or_else(usual);
        let assumed = options.played.is_none() && played != Played::Schedule;
        Ok(Self { played, assumed, rate_hz: options.rate, resolution_db, meters })
    }
}

fn meters(options: &MeterOptions) -> Result<Vec<Meter>> {
    let mut meters = named(&options.meters)?;
    if let Some(path) = &options.from {
        let text = std::fs::read_to_string(path)
            .with_context(|| format!("{} cannot be read", path.display()))?;
        meters.extend(listed(path, &text)?);
    }
    if meters.is_empty() {
        if options.shown.is_empty() {
            bail!("say what the meter showed: --shown alone=-10 same=-4 independent=-4");
        }
        return Ok(vec![Meter { name: None, readings: options.shown.clone() }]);
    }
    if !options.shown.is_empty() {
        bail!("--shown is for one meter: among several, give it a name with --meter");
    }
    let mut names = HashSet::new();
    let twice = meters.iter().filter_map(|meter| meter.name.as_deref());
    match twice.into_iter().find(|name| !names.insert(*name)) {
        Some(name) => bail!("two meters are called {name}: give each a name of its own"),
        None => Ok(meters),
    }
}

/// Meters from the words behind `--meter`.
fn named(words: &[Word]) -> Result<Vec<Meter>> {
    let mut meters: Vec<Meter> = Vec::new();
    for word in words {
        match word {
            Word::Name(name) => {
                meters.push(Meter { name: Some(name.clone()), readings: Vec::new() });
            }
            Word::Readings(readings) => {
                let missing = "name the meter before its readings: --meter FOH alone=-10 same=-4";
                let meter = meters.last_mut().ok_or_else(|| anyhow!(missing))?;
                meter.readings.extend(readings);
            }
        }
    }
    Ok(meters)
}

/// Meters from the lines of a file.
fn listed(path: &Path, text: &str) -> Result<Vec<Meter>> {
    let mut meters = Vec::new();
    for (number, line) in (1..).zip(text.lines()) {
        let line = line.split('#').next().unwrap_or_default().trim();
        if line.is_empty() {
            continue;
        }
        let at = || format!("{}, line {number}", path.display());
        let (name, words) = line
            .rsplit_once(':')
            .with_context(|| format!("{}: write NAME: alone=-10 same=-4 independent=-4", at()))?;
        let readings = readings(words).map_err(|error| anyhow!(error)).with_context(at)?;
        meters.push(Meter { name: Some(name.trim().to_owned()), readings });
    }
    if meters.is_empty() {
        bail!("{} names no meter: write NAME: alone=-10 same=-4 independent=-4", path.display());
    }
    Ok(meters)
}
