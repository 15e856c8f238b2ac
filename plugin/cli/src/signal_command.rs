//! `ledgerline signal`: the feeds as files, and the card.

mod card;
mod plan;
mod wav;

use std::io::Write;
use std::path::Path;

use anyhow::{Context, Result, bail};
use ledgerline_measure::sum_test::Feed;

use crate::options::SignalOptions;
use crate::outcome::Outcome;
use plan::{KINDS, Plan};

/// What says what to do.
const CARD: &str = "card.txt";

pub(crate) fn run(options: &SignalOptions, out: &mut dyn Write) -> Result<Outcome> {
    let plan = Plan::of(options)?;
    let folder = &options.folder;
    let card = card::text(&plan, options.rate, options.level);
    refuse_others(folder, &plan, &card)?;
    std::fs::create_dir_all(folder)
        .with_context(|| format!("the folder {} cannot be made", folder.display()))?;
    let [one, two] = feeds(&plan, options.level);
    let [first, second, both] = plan.files();
    let files: [(&str, &[&[f32]]); 3] =
        [(first, &[&one]), (second, &[&two]), (both, &[&one, &two])];
    for (name, channels) in files {
        let path = folder.join(name);
        wav::write(&path, options.rate, options.bits, channels)?;
        writeln!(out, "{}", path.display())?;
    }
    let path = folder.join(CARD);
    std::fs::write(&path, card).with_context(|| format!("{} cannot be written", path.display()))?;
    writeln!(out, "{}", path.display())?;
    Ok(Outcome::Fine)
}

/// What the two channels play.
fn feeds(plan: &Plan, level_dbfs: f64) -> [Vec<f32>; 2] {
    let feeds = [Feed::One, Feed::Two];
    match plan {
        Plan::Test(schedule) => feeds.map(|feed| feed.all(schedule, level_dbfs)),
        Plan::Loop { pattern, rounds } => {
            feeds.map(|feed| pattern.repeating(feed, *rounds, level_dbfs))
        }
        Plan::Pairs { pattern, frames } => pattern.noises(*frames, level_dbfs),
    }
}

/// A folder holds what one card is about.
fn refuse_others(folder: &Path, plan: &Plan, card: &str) -> Result<()> {
    let own = plan.files();
    let others = KINDS.iter().flatten().filter(|name| !own.contains(name));
    for other in others {
        if folder.join(other).exists() {
            bail!(
                "{} holds {other}, and its card is about that: give another folder, or take those \
                 files away first",
                folder.display()
            );
        }
    }
    // Files of one name, of another form, pace, rate or level.
    let there = own.iter().any(|name| folder.join(name).exists());
    if there && std::fs::read_to_string(folder.join(CARD)).is_ok_and(|other| other != card) {
        bail!(
            "{} holds files of the same names that were made with other options, as its card says: \
             give another folder, or take those files away first",
            folder.display()
        );
    }
    Ok(())
}
