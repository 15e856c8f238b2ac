//! Opening what the library parses, whole or cut short.

use std::fs::File;

use symphonia::core::io::MediaSource;

use super::Opened;
use super::finish::finish;
use crate::audio::caf::CutCaf;
use crate::audio::codec;
use crate::audio::coded::Ending;
use crate::audio::container::{Chosen, Container};
use crate::audio::error::Fault;
use crate::audio::kind::Kind;
use crate::audio::source::{Reader, Source};
use crate::audio::window::Window;

/// The first bytes of Matroska, and of everything else in EBML.
pub(super) const MATROSKA: &[u8] = b"\x1a\x45\xdf\xa3";

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
    ) -> Result<Opened, Fault> {
        let container = Container::open(Box::new(source), self.kind, self.head)?;
        let chosen = container.choose(self.track)?;
        let window = self.window.clone().unwrap_or_else(|| stated_window(&chosen));
        finish(container, chosen, window, None, self.name, ending)
    }

    /// Most of the library's readers look for what stands behind the sound and refuse a file that
    /// ends before. Read like a pipe, such a file gives what there is of it.
    pub(super) fn open_whole_or_cut(&self, file: File) -> Result<Opened, Fault> {
        let again = file.try_clone().map_err(Fault::Unreadable)?;
        let opened = self.open(Source::of_file(file)?.into_reader(), Ending::Told);
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
            return self.open(cut.ok_or(Fault::NotAudio)?, Ending::Cut);
        }
        self.open(Reader::as_pipe(file)?, Ending::Cut)
    }
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
