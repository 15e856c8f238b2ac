//! Comparisons of signals in memory.

use ledgerline_measure::Edges;
use ledgerline_measure::compare::{CompareSettings, Comparison, compare};
use ledgerline_report::compare::{ComparePage, FileFacts, page};
use ledgerline_tests::chains;
use ledgerline_tests::memory::Memory;
use ledgerline_tests::signals::{ferry, session};

use super::fixtures::MADE;

/// A mix as a comparison takes it.
fn mix(length_s: f64) -> Memory {
    let signal = ferry::play_for(length_s);
    let exact = |channel: &[f32]| channel.iter().map(|&x| f64::from(x)).collect();
    Memory::new(signal.rate_hz as u32, vec![exact(&signal.left), exact(&signal.right)])
}

fn compared(mix: &Memory, export: &Memory) -> Comparison {
    let (mut mix, mut export) = (mix.clone(), export.clone());
    compare(&mut mix, &mut export, &CompareSettings::default(), &mut |_| ())
        .expect("memory does not fail")
}

/// A mix whose export is late, at half the rate, turned down and limited.
pub fn changed() -> Comparison {
    let mix = mix(12.0);
    let mut export = mix.each(|channel| chains::resampled(&chains::delayed(channel, 480.0), 1, 2));
    export.rate_hz = mix.rate_hz / 2;
    compared(&mix, &chains::limited(&export.map(|x| 0.8 * x), 0.08, 0.05))
}

/// A mix and itself.
pub fn identical() -> Comparison {
    let mix = mix(3.0);
    compared(&mix, &mix)
}

/// Two programmes that have nothing in common.
pub fn strangers() -> Comparison {
    compared(&mix(3.0), &session::play(5, 96_000, 3.0))
}

/// The page of a comparison.
pub fn page_of(comparison: &Comparison) -> String {
    let file = |path, format, codec| FileFacts {
        path,
        format,
        codec,
        decoder: None,
        sample_rate_hz: 96_000,
        channels: 2,
        duration_s: Some(comparison.mix.duration_s),
        warnings: &[],
    };
    page(&ComparePage {
        mix: file("/projects/night crossing/mix.wav", "WAV", "PCM, 32 bit float"),
        export: file("/projects/night crossing/exports/ferry.m4a", "MP4", "AAC-LC"),
        comparison,
        edges: Edges::default(),
        made: MADE,
    })
}
