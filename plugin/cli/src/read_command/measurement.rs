//! Measures one file with the plugin's measures.

mod parts;

use std::sync::mpsc::sync_channel;

use anyhow::{Context, Result, bail};
use ledgerline_measure::{
    ChannelRole, Halves, HistoryRow, Meter, Reading, Settings, Spectrum, View,
};

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
}

/// What to measure, and how.
#[derive(Clone, Copy)]
pub(crate) struct Job<'a> {
    pub(crate) settings: Settings,
    pub(crate) view: View,
    /// Numbers of the channels to measure, from 1; all where there is none.
    pub(crate) channels: &'a [u16],
    pub(crate) history: bool,
    /// Whether decoding gets a thread of its own, beside the meter's.
    pub(crate) ahead: bool,
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
        if self.ahead
            && let Some(measurement) = self.run_in_parts(&audio, &wiring, &advance)?
        {
            return Ok(measurement);
        }
        let mut meter = self.meter(audio.info(), &wiring)?;
        let mut history = Vec::new();
        let mut take = |block: &[Vec<f32>]| {
            wiring.feed(&mut meter, block);
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
        self.conclude(&audio, meter, history)
    }

    fn meter(&self, info: &FileInfo, wiring: &Wiring) -> Result<Meter> {
        let mut meter = wiring.meter(info, self.settings).with_context(|| info.path.clone())?;
        meter.set_ceiling_db(self.view.ceiling_db);
        meter.set_word_bits(info.word_bits());
        meter.draw_at_the_end();
        if self.history {
            meter.keep_history();
        }
        Ok(meter)
    }

    /// What a meter reads that has taken the whole file, which `audio` has been read to its end of.
    fn conclude(
        &self,
        audio: &AudioFile,
        mut meter: Meter,
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
        if self.halves == Halves::MainSidechain {
            return Ok(Meter::new(rate_hz, self.main.len(), self.side_chain.len(), settings)?);
        }
        let roles: Vec<ChannelRole> = self
            .main
            .iter()
            .map(|&index| info.roles.get(index).copied().unwrap_or(ChannelRole::Other))
            .collect();
        Ok(Meter::for_channels(rate_hz, &roles, settings)?)
    }

    fn feed(&self, meter: &mut Meter, block: &[Vec<f32>]) {
        let pick = |indices: &[usize]| -> Vec<&[f32]> {
            indices.iter().map(|&index| block[index].as_slice()).collect()
        };
        meter.process(&pick(&self.main), &pick(&self.side_chain));
    }
}
