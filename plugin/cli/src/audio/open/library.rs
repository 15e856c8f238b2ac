//! Opening what the library parses, whole or cut short.

use std::fs::File;

use symphonia::core::io::MediaSource;

use super::Opened;
use super::finish::Way;
use crate::audio::caf::CutCaf;
use crate::audio::codec;
use crate::audio::coded::Ending;
use crate::audio::container::{Chosen, Container};
use crate::audio::error::Fault;
use crate::audio::kind::Kind;
use crate::audio::matroska::{Blocks, Header};
use crate::audio::packets::Packets;
use crate::audio::source::{Reader, Source};
use crate::audio::window::Window;

/// The first bytes of Matroska, and of everything else in EBML.
const MATROSKA: &[u8] = b"\x1a\x45\xdf\xa3";

/// What to open with the library's readers.
pub(super) struct Request<'a> {
    pub(super) kind: Kind,
    pub(super) head: &'a [u8],
    pub(super) name: &'a str,
    pub(super) track: Option<u32>,
    /// The part to keep, where something else than the library's reader knows it.
    pub(super) window: Option<Window>,
}

impl Request<'_> {
    pub(super) fn open(
        &self,
        source: impl MediaSource + 'static,
        ending: Ending,
        blocks: Option<File>,
    ) -> Result<Opened, Fault> {
        let file_bytes = source.byte_len().unwrap_or(0);
        let container = Container::open(Box::new(source), self.kind, self.head)?;
        let chosen = container.choose(self.track)?;
        let window = self.window.clone().unwrap_or_else(|| stated_window(&chosen));
        let packets = match blocks {
            Some(file) => Some(Packets::Matroska(matroska(file, &chosen)?)),
            None => None,
        };
        Way { name: self.name, packets, window, ending, file_bytes }.finish(container, chosen)
    }

    /// Most of the library's readers look for what stands behind the sound and refuse a file that
    /// ends before. Read like a pipe, such a file gives what there is of it.
    pub(super) fn open_whole_or_cut(&self, file: File) -> Result<Opened, Fault> {
        let again = file.try_clone().map_err(Fault::Unreadable)?;
        let blocks = self.blocks(&again)?;
        let opened = self.open(Source::of_file(file)?.into_reader(), Ending::Told, blocks);
        match opened {
            Err(fault @ (Fault::BadHeader(_) | Fault::NothingDecoded(_))) => {
                self.open_cut(again).map_err(|_| fault)
            }
            opened => opened,
        }
    }

    fn open_cut(&self, file: File) -> Result<Opened, Fault> {
        if self.head.starts_with(b"caff") {
            let cut = CutCaf::new(file).map_err(Fault::Unreadable)?;
            return self.open(cut.ok_or(Fault::NotAudio)?, Ending::Cut, None);
        }
        let blocks = self.blocks(&file)?;
        self.open(Reader::as_pipe(file)?, Ending::Cut, blocks)
    }

    /// The file once more where its packets are read here: Matroska's.
    fn blocks(&self, file: &File) -> Result<Option<File>, Fault> {
        let is_matroska = self.head.starts_with(MATROSKA);
        is_matroska.then(|| file.try_clone()).transpose().map_err(Fault::Unreadable)
    }
}

/// The blocks of the chosen track.
fn matroska(file: File, chosen: &Chosen) -> Result<Blocks, Fault> {
    let again = file.try_clone().map_err(Fault::Unreadable)?;
    let header = Header::read(again).map_err(Fault::Unreadable)?;
    let track = header.as_ref().and_then(|header| header.track(chosen.track.id));
    let (Some(header), Some(track)) = (&header, track) else {
        return Err(Fault::BadHeader("it does not say where the track's blocks are".to_owned()));
    };
    if track.is_packed {
        let codec = format!("{} and packed once more by the container", chosen.info.codec);
        return Err(Fault::UnknownCodec { codec, tracks: vec![chosen.info.clone()] });
    }
    let rate_hz = codec::clock_hz(&chosen.params);
    Blocks::new(file, header, track, chosen.track.id, rate_hz).map_err(Fault::Unreadable)
}

/// Delay and length where the container states them and neither its reader nor the decoder takes
/// them out: CAF.
fn stated_window(chosen: &Chosen) -> Window {
    let trims = codec::is_trimmed_by_decoder(chosen.params.codec);
    if trims || chosen.track.delay.is_none() && chosen.track.padding.is_none() {
        return Window::all();
    }
    let start = u64::from(chosen.track.delay.unwrap_or(0));
    let frames = chosen.track.num_frames.unwrap_or(u64::MAX);
    Window::one(start, frames)
}
