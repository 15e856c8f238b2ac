//! Opening MP4: linear samples and packets are read here, fragments by the library.

use std::fs::File;

use super::Opened;
use super::finish::Way;
use super::library::Request;
use super::mp4_linear;
use crate::audio::coded::Ending;
use crate::audio::container::Container;
use crate::audio::error::Fault;
use crate::audio::kind::Kind;
use crate::audio::packets::Packets;
use crate::audio::window::Window;

pub(super) fn open(
    file: File,
    head: &[u8],
    name: &str,
    asked: Option<u32>,
) -> Result<Opened, Fault> {
    let again = file.try_clone().map_err(Fault::Unreadable)?;
    let container = Container::open_mp4(file, head)?;
    let fragmented = container.movie.as_ref().is_none_or(|movie| movie.fragmented);
    let chosen = container.choose(asked)?;
    if fragmented {
        let rate_hz = chosen.params.sample_rate.unwrap_or(0);
        let stated = container.movie_track(chosen.track.id);
        let window = stated.map(|track| track.window_in_frames(rate_hz));
        let request = Request { kind: Kind::Mp4, head, name, track: asked, window };
        return request.open_whole_or_cut(again);
    }
    let file_bytes = again.metadata().map_or(0, |about| about.len());
    let whole =
        Way { name, packets: None, window: Window::all(), ending: Ending::Told, file_bytes };
    let Some(track) = container.movie_track(chosen.track.id) else {
        return whole.finish(container, chosen);
    };
    if let Some(word) = mp4_linear::word(&chosen.params) {
        let word = word.in_quicktime(&track.entry, track.little_endian);
        return mp4_linear::open(&container, &chosen, track, word, again, name);
    }
    let packets = Some(Packets::Mp4(track.samples(again)));
    let rate_hz = chosen.params.sample_rate.unwrap_or(track.clock_hz);
    let window = track.window_in_frames(rate_hz);
    Way { packets, window, ..whole }.finish(container, chosen)
}
