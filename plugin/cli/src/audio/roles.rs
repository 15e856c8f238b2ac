//! What each channel is for, from what the file states about loudspeaker positions.
//!
//! ITU-R BS.1770-5, table 4 weights a position by its direction: 60 to 120 degrees to the side and
//! less than 30 degrees up or down counts as surround, all others as 1. In a 5.1 file the "back"
//! channels of the WAVE channel mask are the surrounds at 110 degrees; beside "side" channels they
//! are those at 135 degrees, which count as 1.

use ledgerline_measure::ChannelRole;
use symphonia::core::audio::{ChannelLabel, Channels, Position};

const BACK: Position = Position::REAR_LEFT.union(Position::REAR_RIGHT);
const SIDE: Position = Position::SIDE_LEFT.union(Position::SIDE_RIGHT);

/// Roles by the bits of a WAVE channel mask; channels beyond its bits have no role.
pub(super) fn of_wave_mask(mask: u32, channels: usize) -> Vec<ChannelRole> {
    let positions = Position::from_bits_truncate(u64::from(mask & 0x3_FFFF));
    if channels < 2 || positions.is_empty() {
        return by_count(channels);
    }
    let mut roles = of_positions(positions);
    roles.resize(channels, ChannelRole::Other);
    roles
}

/// Roles by what a decoder states.
pub(super) fn of_channels(channels: &Channels) -> Vec<ChannelRole> {
    let count = channels.count();
    match channels {
        Channels::Positioned(positions) if count > 1 => of_positions(*positions),
        Channels::Custom(labels) if count > 1 => {
            let all = labels.iter().filter_map(position).fold(Position::empty(), Position::union);
            labels
                .iter()
                .map(|label| position(label).map_or(ChannelRole::Other, |one| role(one, all)))
                .collect()
        }
        Channels::Ambisonic(_) => vec![ChannelRole::Other; count],
        _ => by_count(count),
    }
}

/// Roles where the file says nothing: the usual order of so many channels in a WAVE file.
pub(super) fn by_count(channels: usize) -> Vec<ChannelRole> {
    use ChannelRole::{Center, Left, LowFrequency, Other, Right, Surround};
    match channels {
        1 => vec![Center],
        2 => vec![Left, Right],
        3 => vec![Left, Right, Center],
        4 => vec![Left, Right, Surround, Surround],
        5 => vec![Left, Right, Center, Surround, Surround],
        6 => vec![Left, Right, Center, LowFrequency, Surround, Surround],
        8 => vec![Left, Right, Center, LowFrequency, Other, Other, Surround, Surround],
        _ => vec![Other; channels],
    }
}

fn of_positions(positions: Position) -> Vec<ChannelRole> {
    positions.iter().map(|one| role(one, positions)).collect()
}

fn position(label: &ChannelLabel) -> Option<Position> {
    match label {
        ChannelLabel::Positioned(position) => Some(*position),
        _ => None,
    }
}

fn role(one: Position, all: Position) -> ChannelRole {
    match one {
        Position::FRONT_LEFT => ChannelRole::Left,
        Position::FRONT_RIGHT => ChannelRole::Right,
        Position::FRONT_CENTER => ChannelRole::Center,
        Position::LFE1 | Position::LFE2 => ChannelRole::LowFrequency,
        Position::FRONT_LEFT_WIDE | Position::FRONT_RIGHT_WIDE => ChannelRole::Surround,
        one if SIDE.contains(one) => ChannelRole::Surround,
        one if BACK.contains(one) && !all.intersects(SIDE) => ChannelRole::Surround,
        _ => ChannelRole::Other,
    }
}
