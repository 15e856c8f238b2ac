//! How the channels of a bus are put into pairs.
//!
//! Channels go through the meter two at a time. The first pairs are the halves': a channel of half
//! A beside one of half B. A bus of more than two channels has further pairs, which belong to the
//! bus alone: peaks, energy and loudness of the bus know them, and the halves do not.

use crate::channel::{ChannelRole, MOST_CHANNELS};
use crate::settings::{Halves, SettingsError};

/// Where a channel of a pair comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Source {
    /// A channel of the main input.
    Main(usize),
    /// A channel of the side-chain input.
    SideChain(usize),
    /// Nothing: silence, which counts as a channel.
    Silence,
    /// There is no such channel.
    Absent,
}

/// Two channels that go through the meter side by side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pair {
    pub(crate) a: Source,
    pub(crate) b: Source,
    /// What the powers of a and b weigh in the loudness of the bus.
    pub(crate) weights: [f64; 2],
}

impl Pair {
    /// A pair whose channels weigh the same.
    fn plain(a: Source, b: Source) -> Self {
        Self { a, b, weights: [1.0; 2] }
    }

    /// Whether there is a second channel.
    pub(crate) fn has_b(&self) -> bool {
        self.b != Source::Absent
    }
}

/// The pairs of a bus.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Layout {
    pub(crate) pairs: Vec<Pair>,
    /// How many of them are the halves'; they come first.
    pub(crate) halves_pairs: usize,
}

impl Layout {
    /// A bus of a main and a side-chain input of one or two channels each.
    pub(crate) fn of_inputs(
        main: usize,
        side_chain: usize,
        halves: Halves,
    ) -> Result<Self, SettingsError> {
        let unfit = SettingsError::Channels { main, side_chain };
        let pairs = match (halves, main, side_chain) {
            (_, 0 | 3.., _) | (_, _, 3..) | (Halves::LeftRight, 1, _) => return Err(unfit),
            (Halves::LeftRight, ..) => vec![Pair::plain(Source::Main(0), Source::Main(1))],
            (Halves::Mono, 1, _) => vec![Pair::plain(Source::Main(0), Source::Absent)],
            (Halves::Mono, ..) => return Err(unfit),
            (Halves::MainSidechain, ..) => main_beside_side_chain(main, side_chain),
        };
        let halves_pairs = pairs.len();
        Ok(Self { pairs, halves_pairs })
    }

    /// A bus of up to [`MOST_CHANNELS`] channels in one input.
    pub(crate) fn of_channels(roles: &[ChannelRole]) -> Result<Self, SettingsError> {
        match roles.len() {
            channels @ 1 => Self::of_inputs(channels, 0, Halves::Mono),
            channels @ 2 => Self::of_inputs(channels, 0, Halves::LeftRight),
            3..=MOST_CHANNELS => Ok(Self::surround(roles)),
            channels => Err(SettingsError::ChannelCount { channels }),
        }
    }

    fn surround(roles: &[ChannelRole]) -> Self {
        let first = |role| roles.iter().position(|&other| other == role);
        let [left, right] = match (first(ChannelRole::Left), first(ChannelRole::Right)) {
            (Some(left), Some(right)) => [left, right],
            _ => [0, 1],
        };
        let weight = |channel: usize| roles[channel].loudness_weight();
        let pair = |a: usize, b: Option<usize>| Pair {
            a: Source::Main(a),
            b: b.map_or(Source::Absent, Source::Main),
            weights: [weight(a), b.map_or(0.0, weight)],
        };
        let others: Vec<usize> =
            (0..roles.len()).filter(|&channel| channel != left && channel != right).collect();
        let mut pairs = vec![pair(left, Some(right))];
        pairs.extend(others.chunks(2).map(|two| pair(two[0], two.get(1).copied())));
        Self { pairs, halves_pairs: 1 }
    }

    /// How many channels the bus has.
    pub(crate) fn channels(&self) -> usize {
        self.second_channels().map(|has_b| 1 + usize::from(has_b)).sum()
    }

    /// Whether each pair has a second channel.
    pub(crate) fn second_channels(&self) -> impl Iterator<Item = bool> {
        self.pairs.iter().map(Pair::has_b)
    }
}

/// One channel against two stands beside both.
fn main_beside_side_chain(main: usize, side_chain: usize) -> Vec<Pair> {
    let pair = |index: usize| {
        let b = match side_chain {
            0 => Source::Silence,
            _ => Source::SideChain(index.min(side_chain - 1)),
        };
        Pair::plain(Source::Main(index.min(main - 1)), b)
    };
    (0..main.max(side_chain)).map(pair).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of_channels(roles: &[ChannelRole]) -> Layout {
        Layout::of_channels(roles).expect("a bus")
    }

    #[test]
    fn the_halves_are_left_and_right_wherever_they_stand() {
        use ChannelRole::{Center, Left, LowFrequency, Right, Surround};
        let layout = of_channels(&[Center, Left, Right, Surround, Surround, LowFrequency]);
        assert_eq!((layout.pairs.len(), layout.halves_pairs, layout.channels()), (3, 1, 6));
        assert_eq!((layout.pairs[0].a, layout.pairs[0].b), (Source::Main(1), Source::Main(2)));
        assert_eq!(layout.pairs[1].weights, [1.0, 1.41]);
        assert_eq!(layout.pairs[2].weights, [1.41, 0.0]);
    }

    #[test]
    fn where_no_role_says_the_halves_are_the_first_two_channels() {
        let layout = of_channels(&[ChannelRole::Surround, ChannelRole::Other, ChannelRole::Left]);
        assert_eq!((layout.pairs[0].a, layout.pairs[0].b), (Source::Main(0), Source::Main(1)));
        assert_eq!(layout.pairs[0].weights, [1.41, 1.0]);
        assert_eq!((layout.pairs[1].a, layout.pairs[1].b), (Source::Main(2), Source::Absent));
        assert_eq!(layout.channels(), 3);
    }

    #[test]
    fn two_channels_are_left_and_right_whatever_their_roles() {
        let named = of_channels(&[ChannelRole::Surround, ChannelRole::LowFrequency]);
        assert_eq!(Ok(named), Layout::of_inputs(2, 0, Halves::LeftRight));
    }
}
