//! What to do about channels and their polarity.

use crate::compare::finding::{Code, Finding};
use crate::compare::judge::words::samples;
use crate::compare::record::{ChannelMap, Comparison, Polarity};
use crate::words::{fixed, list};

pub(super) fn of(finding: &Finding, record: &Comparison) -> Option<String> {
    let number = |name: &str| finding.numbers.get(name).copied();
    let mix_channels = record.mix.channels;
    match finding.code {
        Code::PolarityInverted if record.polarity == Some(Polarity::Inverted) => {
            Some("Invert the export.".into())
        }
        Code::PolarityInverted => {
            Some(format!("Invert {} of the export.", list(&inverted(record)?)))
        }
        Code::ChannelsChanged => changed(finding, record),
        Code::ChannelOrder => Some("Export again with the channels in the mix's order.".into()),
        Code::Downmix => (!record.tolerances.any_channels)
            .then(|| format!("Export all {mix_channels} channels, unless a fold-down was meant.")),
        Code::ChannelMissing => {
            let missing = number("channel").map(|channel| channel as usize);
            let which = missing.map_or("the missing channel".into(), |at| name(at, mix_channels));
            Some(format!("Route {which} of the mix to the export as well."))
        }
        Code::ChannelDelay => {
            let (channel, late) = (number("channel")? as usize, number("delay_samples")?);
            let others = (0..record.export.channels).filter(|at| *at != channel);
            let early: Vec<String> = if late > 0.0 {
                others.map(|at| name(at, record.export.channels)).collect()
            } else {
                vec![name(channel, record.export.channels)]
            };
            let early = if early.len() > 2 { "the other channels".into() } else { list(&early) };
            Some(format!("Delay {early} by {}.", samples(late)))
        }
        _ => None,
    }
}

/// A channel, counted from 0, as it is spoken of.
fn name(channel: usize, channels: usize) -> String {
    match (channels, channel) {
        (2, 0) => "the left channel".into(),
        (2, 1) => "the right channel".into(),
        _ => format!("channel {}", channel + 1),
    }
}

/// The channels that are inverted, where each plays in its own place.
fn inverted(record: &Comparison) -> Option<Vec<String>> {
    let gains = &record.channel_gains;
    let straight = record.channels == Some(ChannelMap::Same) && record.mix.channels == gains.len();
    let is_inverted =
        |channel: &usize| gains[*channel].get(*channel).is_some_and(|gain| *gain < 0.0);
    let names: Vec<String> =
        (0..gains.len()).filter(is_inverted).map(|channel| name(channel, gains.len())).collect();
    (straight && !names.is_empty()).then_some(names)
}

fn changed(finding: &Finding, record: &Comparison) -> Option<String> {
    let (mix, export) = (record.mix.channels, record.export.channels);
    match record.channels? {
        ChannelMap::Same if mix == export => {
            let apart_db = finding.numbers.get("difference_db")?;
            record.tolerances.gain_db.filter(|most| apart_db > most)?;
            let gain = |channel: &usize| record.channel_gains[*channel][*channel].abs();
            let lowest = (0..export).min_by(|a, b| gain(a).total_cmp(&gain(b)))?;
            // Of more than two, the others may differ among each other.
            (export == 2)
                .then(|| format!("Raise {} by {} dB.", name(lowest, export), fixed(*apart_db, 2)))
        }
        ChannelMap::Same => None,
        ChannelMap::Swapped => Some("Swap left and right.".into()),
        ChannelMap::MonoFold if mix == 2 => Some("Export in stereo.".into()),
        ChannelMap::MonoFold => Some(format!("Export all {mix} channels.")),
        ChannelMap::LeftOnly | ChannelMap::RightOnly if mix == 1 => {
            Some("Route the mix to both channels of the export.".into())
        }
        ChannelMap::LeftOnly => Some("Route the right channel to the export as well.".into()),
        ChannelMap::RightOnly => Some("Route the left channel to the export as well.".into()),
        ChannelMap::Other => Some("Check how the channels are routed to the export.".into()),
    }
}
