//! Measures one file with the plugin's measures.

mod cutter;
mod parts;
mod spares;
mod while_decoding;

use std::sync::mpsc::sync_channel;

use anyhow::{Context, Result, bail};
use ledgerline_measure::entries::{Clock, Entries, EntryList, OpenedBy};
use ledgerline_measure::{
    ChannelRole, Halves, HistoryRow, Meter, Reading, Settings, Spectrum, View,
};

use spares::Kind;
pub(super) use spares::Spares;

use super::record::FileRecord;
use crate::audio::{AudioFile, FileInfo};

/// How many blocks the decoder may be ahead of the meter.
const BLOCKS_AHEAD: usize = 16;

/// A file, measured from beginning to end.
pub(crate) struct Measurement {
    pub(crate) file: FileRecord,
    /// What is wrong with the file, though it could be read.
    pub(crate) warnings: Vec<String>,
    pub(crate) reading: Reading,
    pub(crate) spectrum: Spectrum,
    /// Empty unless asked for.
    pub(crate) history: Vec<HistoryRow>,
    /// Empty unless asked for.
    pub(crate) entries: EntryList,
}

/// What to measure, and how.
pub(crate) struct Job<'a> {
    pub(crate) settings: Settings,
    pub(crate) view: View,
    /// Numbers of the channels to measure, from 1; all where there is none.
    pub(crate) channels: &'a [u16],
    pub(crate) history: bool,
    /// Whether entries are looked for.
    pub(crate) entries: bool,
    /// Where entries begin that the user sets, in seconds.
    pub(crate) marks_s: &'a [f64],
    /// Whether decoding gets a thread of its own, beside the meter's.
    pub(crate) ahead: bool,
    /// Meters of the files before.
    pub(super) spares: Spares,
}

impl Job<'_> {
    /// Measures a file; `advance` hears of frames as they are done.
    ///
    /// # Errors
    ///
    /// When the file breaks in a way that leaves nothing to go on with, or holds a bus that cannot
    /// be measured.
    pub(crate) fn run(
        &self,
        mut audio: AudioFile,
        advance: impl Fn(usize) + Sync,
    ) -> Result<Measurement> {
        let path = audio.info().path.clone();
        let wiring = Wiring::new(audio.info(), self.channels, self.settings.halves)
            .with_context(|| path.clone())?;
        if self.ahead && !self.entries {
            if let Some(measurement) = self.run_in_parts(&audio, &wiring, &advance)? {
                return Ok(measurement);
            }
            if let Some(measurement) = self.run_while_decoding(&mut audio, &wiring, &advance)? {
                return Ok(measurement);
            }
        }
        let kind = wiring.kind(audio.info());
        let mut meter = match self.spares.take(&kind) {
            Some(meter) => meter,
            None => self.meter(audio.info(), &wiring)?,
        };
        let mut entries = match self.entries {
            true => Some(wiring.entries(audio.info(), self.settings, self.view)?),
            false => None,
        };
        let rate_hz = f64::from(audio.info().sample_rate_hz);
        let mut marks = Marks::new(self.marks_s, rate_hz);
        let mut history = Vec::new();
        let mut take = |block: &[Vec<f32>]| {
            wiring.feed(block, 0, |main, side_chain| {
                meter.process(main, side_chain);
                if let Some(entries) = &mut entries {
                    marks.feed(entries, main, side_chain);
                }
            });
            history.append(&mut meter.take_history());
            advance(block.first().map_or(0, Vec::len));
        };
        if self.ahead {
            each_block_ahead(&mut audio, &mut take)?;
        } else {
            let mut block = Vec::new();
            while audio.read_f32(&mut block)? {
                take(&block);
            }
        }
        let mut measurement = self.conclude(&audio, &mut meter, history)?;
        if !self.ahead {
            self.spares.keep(kind, meter);
        }
        if let Some(mut entries) = entries {
            entries.finish();
            measurement.entries = entries.list().clone();
        }
        Ok(measurement)
    }

    fn meter(&self, info: &FileInfo, wiring: &Wiring) -> Result<Meter> {
        let mut meter = wiring.meter(info, self.settings).with_context(|| info.path.clone())?;
        meter.set_ceiling_db(self.view.ceiling_db);
        meter.set_your_meter(self.view.your_meter.map(|meter| meter.kind));
        meter.clip_at(self.view.clip_at);
        meter.set_word_bits(info.word_bits());
        meter.draw_at_the_end();
        meter.keep_decorrelation();
        if self.history {
            meter.keep_history();
        }
        Ok(meter)
    }

    /// What a meter reads that has taken the whole file, which `audio` has been read to its end of.
    fn conclude(
        &self,
        audio: &AudioFile,
        meter: &mut Meter,
        mut history: Vec<HistoryRow>,
    ) -> Result<Measurement> {
        meter.finish();
        history.append(&mut meter.take_history());
        let reading = meter.reading(&self.view).over_the_whole();
        if reading.time_s == 0.0 {
            bail!("{} holds no sample", audio.info().path);
        }
        Ok(Measurement {
            file: FileRecord::new(audio.info(), reading.time_s),
            warnings: audio.warnings().to_vec(),
            spectrum: meter.spectrum(),
            reading,
            history,
            entries: EntryList::default(),
        })
    }
}

/// Decodes on a thread of its own, as far ahead as the queue allows.
fn each_block_ahead(audio: &mut AudioFile, take: &mut impl FnMut(&[Vec<f32>])) -> Result<()> {
    let (full, decoded) = sync_channel(BLOCKS_AHEAD);
    let (emptied, empty) = sync_channel::<Vec<Vec<f32>>>(BLOCKS_AHEAD);
    std::thread::scope(|scope| {
        let decoder = scope.spawn(move || -> Result<()> {
            loop {
                let mut block = empty.try_recv().unwrap_or_default();
                if !audio.read_f32(&mut block)? || full.send(block).is_err() {
                    return Ok(());
                }
            }
        });
        for block in decoded {
            take(&block);
            // The queue is full only when the decoder has blocks enough.
            let _ = emptied.try_send(block);
        }
        decoder.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))
    })
}

/// The marks that lie ahead.
struct Marks {
    /// Frames, the next one last.
    ahead: Vec<u64>,
    frames: u64,
}

impl Marks {
    fn new(seconds: &[f64], rate_hz: f64) -> Self {
        let mut ahead: Vec<u64> = seconds.iter().map(|s| (s * rate_hz).round() as u64).collect();
        ahead.sort_unstable_by(|one, other| other.cmp(one));
        Self { ahead, frames: 0 }
    }

    /// Lets `entries` hear a block, cut where marks lie.
    fn feed(&mut self, entries: &mut Entries, main: &[&[f32]], side_chain: &[&[f32]]) {
        let length = main.first().map_or(0, |channel| channel.len());
        let mut start = 0;
        while start < length {
            while self.ahead.pop_if(|mark| *mark <= self.frames).is_some() {
                entries.open(OpenedBy::Mark);
            }
            let until = self.ahead.last().map_or(usize::MAX, |mark| (mark - self.frames) as usize);
            let end = length.min(start.saturating_add(until));
            let [main, side_chain] = [main, side_chain]
                .map(|input| input.iter().map(|channel| &channel[start..end]).collect::<Vec<_>>());
            entries.take(&main, &side_chain, Clock::default());
            self.frames += (end - start) as u64;
            start = end;
        }
    }
}

/// Which of the file's channels go to which input of the meter.
struct Wiring {
    /// Indices, in the meter's order.
    main: Vec<usize>,
    side_chain: Vec<usize>,
    halves: Halves,
}

impl Wiring {
    fn new(info: &FileInfo, picked: &[u16], halves: Halves) -> Result<Self> {
        let mut main: Vec<usize> = match picked {
            [] => (0..info.channels).collect(),
            picked => picked.iter().map(|&number| usize::from(number) - 1).collect(),
        };
        if let Some(beyond) = main.iter().find(|&&index| index >= info.channels) {
            bail!(
                "there is no channel {}: the file has {}, numbered from 1",
                beyond + 1,
                info.channels
            );
        }
        let mut side_chain = Vec::new();
        match (halves, main.len()) {
            (Halves::MainSidechain, 2 | 4) => side_chain = main.split_off(main.len() / 2),
            (Halves::MainSidechain, channels) => bail!(
                "main and side-chain need two or four channels, and there are {channels}: pick \
                 them with --channels, for example --channels 1,3"
            ),
            (Halves::Mono, 2..) => {
                bail!("--halves mono takes one channel: pick it with --channels, for example 1")
            }
            _ => {}
        }
        Ok(Self { main, side_chain, halves })
    }

    fn meter(&self, info: &FileInfo, settings: Settings) -> Result<Meter> {
        let rate_hz = f64::from(info.sample_rate_hz);
        Ok(match self.halves {
            Halves::MainSidechain => {
                Meter::new(rate_hz, self.main.len(), self.side_chain.len(), settings)?
            }
            _ => Meter::for_channels(rate_hz, &self.roles(info), settings)?,
        })
    }

    /// What sort of meter that is, as far as a file has a say in it.
    fn kind(&self, info: &FileInfo) -> Kind {
        Kind {
            rate_hz: info.sample_rate_hz,
            roles: self.roles(info),
            side_chain: self.side_chain.len(),
            word_bits: info.word_bits(),
        }
    }

    fn entries(&self, info: &FileInfo, settings: Settings, view: View) -> Result<Entries> {
        let rate_hz = f64::from(info.sample_rate_hz);
        Ok(match self.halves {
            Halves::MainSidechain => {
                Entries::new(rate_hz, self.main.len(), self.side_chain.len(), settings, view)?
            }
            _ => Entries::for_channels(rate_hz, &self.roles(info), settings, view)?,
        })
    }

    fn roles(&self, info: &FileInfo) -> Vec<ChannelRole> {
        let role = |&index: &usize| info.roles.get(index).copied().unwrap_or(ChannelRole::Other);
        self.main.iter().map(role).collect()
    }

    /// Gives `take` the channels of a block, from frame `from` of it on, for both inputs.
    fn feed(&self, block: &[Vec<f32>], from: usize, take: impl FnOnce(&[&[f32]], &[&[f32]])) {
        let pick = |indices: &[usize]| -> Vec<&[f32]> {
            indices.iter().map(|&index| &block[index][from..]).collect()
        };
        take(&pick(&self.main), &pick(&self.side_chain));
    }
}
