//! The packets of one track, block after block.

use std::collections::VecDeque;
use std::fs::File;
use std::io;

use symphonia::core::packet::Packet;
use symphonia::core::units::{Duration, Timestamp};

use super::ebml::{At, Elements, Head, id, number, signed, unsigned};
use super::{Header, Track, lacing};
use crate::audio::next::Next;

/// A block larger than this is not sound.
const MAX_BLOCK_BYTES: u64 = 16 << 20;

/// Where a program writes the times of blocks, they are rounded to ticks and may be off by a few
/// milliseconds besides: less than this is no gap.
const SLACK_NS: u64 = 8_000_000;

const NS_A_SECOND: i128 = 1_000_000_000;

/// Reads the packets of a track in order. Their times are in frames.
pub(in crate::audio) struct Blocks {
    elements: Elements,
    track: Track,
    id: u32,
    scale_ns: u64,
    rate_hz: u32,
    /// Of the present cluster.
    cluster: Cluster,
    /// Where the file should end by what it says itself.
    promised_end: u64,
    /// Packets of the block that was read last.
    waiting: VecDeque<Next>,
}

#[derive(Debug, Default)]
struct Cluster {
    ticks: Option<u64>,
    /// Where it ends, if it says so.
    end: Option<u64>,
}

/// What stands beside a block in its group.
#[derive(Debug, Default)]
struct Beside {
    duration_ticks: Option<u64>,
    /// To be left out at the end; at the start where it is negative.
    discard_ns: i64,
}

impl Blocks {
    /// Of a file whose header was read; `id` is the track's number for the library.
    pub(in crate::audio) fn new(
        file: File,
        header: &Header,
        track: &Track,
        id: u32,
        rate_hz: u32,
    ) -> io::Result<Self> {
        let mut elements = Elements::new(file)?;
        elements.go_to(header.clusters_at)?;
        Ok(Self {
            elements,
            track: track.clone(),
            id,
            scale_ns: header.scale_ns,
            rate_hz,
            cluster: Cluster::default(),
            promised_end: 0,
            waiting: VecDeque::new(),
        })
    }

    /// What the codec puts before the sound, in frames.
    pub(in crate::audio) fn delay_frames(&self) -> u64 {
        u64::try_from(self.frames(i128::from(self.track.delay_ns))).unwrap_or(0)
    }

    /// By how much times may be off, in frames.
    pub(in crate::audio) fn slack_frames(&self) -> u64 {
        let slack_ns = SLACK_NS.max(self.scale_ns.saturating_mul(2));
        u64::try_from(self.frames(i128::from(slack_ns))).unwrap_or(u64::MAX)
    }

    fn frames(&self, ns: i128) -> i64 {
        let frames = (ns * i128::from(self.rate_hz) + NS_A_SECOND / 2).div_euclid(NS_A_SECOND);
        i64::try_from(frames).unwrap_or(i64::MAX)
    }

    /// The next packet, or what stands in its place.
    pub(in crate::audio) fn next(&mut self) -> io::Result<Next> {
        loop {
            if let Some(next) = self.waiting.pop_front() {
                return Ok(next);
            }
            match self.elements.next()? {
                At::End if self.elements.length() < self.promised_end => {
                    return Ok(Next::BreaksOff);
                }
                At::End => return Ok(Next::End),
                At::Nonsense => return self.find_again(),
                At::Element(head) if self.is_too_long(head) => return self.find_again(),
                At::Element(head) => self.take(head)?,
            }
        }
    }

    /// An element that ends behind its cluster, or behind the file.
    fn is_too_long(&self, head: Head) -> bool {
        if matches!(head.id, id::SEGMENT | id::CLUSTER) {
            return false;
        }
        let Some(size) = head.size else { return true };
        let place = self.elements.position();
        // What is behind a cluster belongs to the segment.
        let cluster_end = self.cluster.end.filter(|end| place < *end);
        place.saturating_add(size) > cluster_end.unwrap_or(u64::MAX).min(self.elements.length())
    }

    /// Behind something that makes no sense the next cluster goes on.
    fn find_again(&mut self) -> io::Result<Next> {
        let end = self.cluster.end.take();
        if let Some(end) = end.filter(|end| *end > self.elements.position()) {
            self.elements.go_to(end)?;
        }
        let found = self.elements.find_cluster()?;
        self.cluster = Cluster::default();
        Ok(if found { Next::Damaged } else { Next::BreaksOff })
    }

    fn take(&mut self, head: Head) -> io::Result<()> {
        let place = self.elements.position();
        let end = head.size.map(|size| place.saturating_add(size));
        match head.id {
            id::SEGMENT => {}
            id::CLUSTER => {
                self.cluster = Cluster { ticks: None, end };
                self.promised_end = self.promised_end.max(end.unwrap_or(0));
            }
            id::TIMESTAMP => {
                self.cluster.ticks = unsigned(&self.elements.body(head.size.unwrap_or(0).min(8))?);
                self.elements.go_to(end.unwrap_or(place))?;
            }
            id::SIMPLE_BLOCK => {
                let body = self.own_body(head.size.unwrap_or(0))?;
                if let Some(body) = body {
                    self.unpack(&body, &Beside::default());
                }
            }
            id::BLOCK_GROUP => self.take_group(end.unwrap_or(place))?,
            _ => self.elements.go_to(end.unwrap_or(place))?,
        }
        Ok(())
    }

    /// A group: its block, and what stands beside it.
    fn take_group(&mut self, end: u64) -> io::Result<()> {
        let mut block = None;
        let mut beside = Beside::default();
        while self.elements.position() < end {
            let At::Element(Head { id, size: Some(size) }) = self.elements.next()? else { break };
            let behind = self.elements.position().saturating_add(size);
            if behind > end {
                break;
            }
            match id {
                id::BLOCK => block = self.own_body(size)?,
                id::BLOCK_DURATION => {
                    beside.duration_ticks = unsigned(&self.elements.body(size.min(8))?);
                }
                id::DISCARD_PADDING => {
                    beside.discard_ns = signed(&self.elements.body(size.min(8))?).unwrap_or(0);
                }
                _ => {}
            }
            self.elements.go_to(behind)?;
        }
        self.elements.go_to(end)?;
        if let Some(block) = block {
            self.unpack(&block, &beside);
        }
        Ok(())
    }

    /// The body of a block behind its track's number, if it is of this track.
    fn own_body(&mut self, size: u64) -> io::Result<Option<Vec<u8>>> {
        let end = self.elements.position().saturating_add(size);
        let start = self.elements.body(size.min(8))?;
        let body = match number(&start) {
            Some((track, rest)) if track == self.track.number && size <= MAX_BLOCK_BYTES => {
                let more = self.elements.body(size - start.len() as u64)?;
                Some([rest, &more].concat())
            }
            _ => None,
        };
        self.elements.go_to(end)?;
        Ok(body)
    }

    /// Puts the packets of a block, from its time on, behind those that wait.
    fn unpack(&mut self, body: &[u8], beside: &Beside) {
        let unpacked = body.split_at_checked(3).and_then(|(front, laced)| {
            let packets = lacing::packets(front[2], laced)?;
            let ticks = i16::from_be_bytes([front[0], front[1]]);
            Some((i128::from(self.cluster.ticks?) + i128::from(ticks), packets))
        });
        let Some((ticks, packets)) = unpacked else {
            self.waiting.push_back(Next::Damaged);
            return;
        };
        let scale_ns = i128::from(self.scale_ns);
        let start = self.frames(ticks.saturating_mul(scale_ns));
        let block_ns = beside.duration_ticks.map(|ticks| i128::from(ticks) * scale_ns);
        let packet_ns = block_ns
            .map_or(i128::from(self.track.packet_ns), |block_ns| block_ns / packets.len() as i128);
        let length = Duration::new(u64::try_from(self.frames(packet_ns)).unwrap_or(0));
        let discard = self.frames(i128::from(beside.discard_ns.unsigned_abs()));
        let discard = Duration::new(u64::try_from(discard).unwrap_or(0));
        let last = packets.len() - 1;
        for (index, packet) in packets.into_iter().enumerate() {
            let data = [&self.track.packet_start, packet].concat();
            let mut packet = Packet::new(self.id, Timestamp::new(start), length, data);
            if beside.discard_ns > 0 && index == last {
                packet.trim_end = discard;
            } else if beside.discard_ns < 0 && index == 0 {
                packet.trim_start = discard;
            }
            let next = if index == 0 { Next::Packet(packet) } else { Next::Laced(packet) };
            self.waiting.push_back(next);
        }
    }
}
