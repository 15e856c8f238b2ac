//! `ledgerline signal`: the feeds as files, and the card.

mod card;
mod wav;

use std::io::Write;

use anyhow::{Context, Result, bail};
use ledgerline_measure::sum_test::schedule::RATE_RANGE_HZ;
use ledgerline_measure::sum_test::{Feed, Schedule};

use crate::options::SignalOptions;
use crate::outcome::Outcome;

pub(crate) fn run(options: &SignalOptions, out: &mut dyn Write) -> Result<Outcome> {
    let Some(schedule) = Schedule::new(options.rate) else {
        bail!(
            "the sum test exists from {} to {} Hz, not at {} Hz",
            RATE_RANGE_HZ.0,
            RATE_RANGE_HZ.1,
            options.rate
        );
    };
    let folder = &options.folder;
    std::fs::create_dir_all(folder)
        .with_context(|| format!("the folder {} cannot be made", folder.display()))?;
    let one = Feed::One.all(&schedule, options.level);
    let two = Feed::Two.all(&schedule, options.level);
    let files: [(&str, &[&[f32]]); 3] =
        [("feed-1.wav", &[&one]), ("feed-2.wav", &[&two]), ("feeds-stereo.wav", &[&one, &two])];
    for (name, channels) in files {
        let path = folder.join(name);
        wav::write(&path, options.rate, options.bits, channels)?;
        writeln!(out, "{}", path.display())?;
    }
    let path = folder.join("card.txt");
    std::fs::write(&path, card::text(&schedule, options.level))
        .with_context(|| format!("{} cannot be written", path.display()))?;
    writeln!(out, "{}", path.display())?;
    Ok(Outcome::Fine)
}
