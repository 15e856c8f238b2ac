//! What is told about a file, whoever read its header.

use ledgerline_measure::ChannelRole;
use ledgerline_measure::channel::MOST_CHANNELS;

use crate::audio::codec::Codec;
use crate::audio::error::Fault;
use crate::audio::info::{FileInfo, TrackInfo};

pub(super) fn check_channels(count: usize) -> Result<(), Fault> {
    match count {
        0 => Err(Fault::NoChannels),
        1..=MOST_CHANNELS => Ok(()),
        count => Err(Fault::TooManyChannels { count, most: MOST_CHANNELS }),
    }
}

/// What is told about a file.
pub(super) struct About<'a> {
    pub(super) name: &'a str,
    pub(super) container: String,
    pub(super) codec: Codec,
    pub(super) rate_hz: u32,
    pub(super) roles: Vec<ChannelRole>,
    pub(super) frames: Option<u64>,
    pub(super) duration_s: Option<f64>,
}

impl About<'_> {
    /// For a container that holds one track and no more.
    pub(super) fn only_track(self, asked: Option<u32>) -> Result<FileInfo, Fault> {
        let track = TrackInfo {
            number: 1,
            codec: self.codec.name.clone(),
            channels: self.roles.len(),
            sample_rate_hz: self.rate_hz,
            language: None,
            readable: true,
        };
        match asked {
            Some(asked) if asked != 1 => Err(Fault::NoSuchTrack { asked, tracks: vec![track] }),
            _ => Ok(self.of_tracks(&track.clone(), vec![track])),
        }
    }

    pub(super) fn of_tracks(self, track: &TrackInfo, mut tracks: Vec<TrackInfo>) -> FileInfo {
        // The decoder knows better than the container.
        if let Some(listed) = tracks.iter_mut().find(|listed| listed.number == track.number) {
            listed.channels = self.roles.len();
            listed.sample_rate_hz = self.rate_hz;
        }
        FileInfo {
            path: self.name.to_owned(),
            format: self.container,
            codec: self.codec.name,
            sample_rate_hz: self.rate_hz,
            channels: self.roles.len(),
            roles: self.roles,
            bits: self.codec.bits,
            float: self.codec.float,
            lossy: self.codec.lossy,
            frames: self.frames,
            duration_s: self.duration_s,
            track: track.number,
            tracks,
        }
    }
}
