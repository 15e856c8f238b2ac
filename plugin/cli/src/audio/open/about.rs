//! What is told about a file, whoever read its header.

use ledgerline_measure::ChannelRole;
use ledgerline_measure::channel::MOST_CHANNELS;

use crate::audio::codec::Codec;
use crate::audio::error::Fault;
use crate::audio::info::{BUILT_IN, FileInfo, TrackInfo};

pub(in crate::audio) fn check_channels(count: usize) -> Result<(), Fault> {
    match count {
        0 => Err(Fault::NoChannels),
        1..=MOST_CHANNELS => Ok(()),
        count => Err(Fault::TooManyChannels { count, most: MOST_CHANNELS }),
    }
}

/// What is told about a file.
pub(in crate::audio) struct About<'a> {
    pub(in crate::audio) name: &'a str,
    pub(in crate::audio) container: String,
    pub(in crate::audio) codec: Codec,
    pub(in crate::audio) rate_hz: u32,
    pub(in crate::audio) roles: Vec<ChannelRole>,
    pub(in crate::audio) frames: Option<u64>,
    pub(in crate::audio) duration_s: Option<f64>,
}

impl About<'_> {
    /// For a container that holds one track and no more.
    pub(in crate::audio) fn only_track(self, asked: Option<u32>) -> Result<FileInfo, Fault> {
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

    pub(in crate::audio) fn of_tracks(
        self,
        track: &TrackInfo,
        mut tracks: Vec<TrackInfo>,
    ) -> FileInfo {
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
            decoder: BUILT_IN.to_owned(),
            tracks,
        }
    }
}
