//! What cannot be compared, or hardly: other programmes, silence, steady tones, crumbs, no numbers.

use ledgerline_measure::compare::finding::Code;
use ledgerline_measure::compare::record::Verdict;
use ledgerline_tests::chains;
use ledgerline_tests::memory::Memory;
use ledgerline_tests::signals::noise::gaussian;
use ledgerline_tests::signals::session;

use super::{Found, MIX, compared};

#[test]
fn another_programme_is_called_one() {
    let found = compared(&MIX, &session::play(2, 48_000, 24.0));
    assert_eq!(found.verdict, Verdict::CannotTell);
    assert!(found.alignment.is_none() && !found.within);
    found.has_only(&[Code::NotTheSame]);
}

#[test]
fn silence_is_called_silence() {
    let silence = MIX.map(|_| 0.0);
    for (mix, export) in [(&*MIX, &silence), (&silence, &*MIX)] {
        let found = compared(mix, export);
        assert_eq!(found.verdict, Verdict::CannotTell);
        found.has_only(&[Code::Silence]);
    }
    assert_eq!(compared(&silence, &silence).verdict, Verdict::Identical);
}

#[test]
fn a_steady_tone_has_more_than_one_delay() {
    let tone = |n: usize| 0.5 * (0.1 * n as f64).sin();
    let sine = Memory::new(48_000, vec![(0..480_000).map(tone).collect(); 2]);
    let found = compared(&sine, &sine.each(|channel| chains::delayed(channel, 5.3)));
    assert!(found.at().ambiguous);
    found.is_near("smallest delay", Some(found.at().delay_samples), 5.3, 0.01);
    assert!(found.codes().contains(&Code::DelayAmbiguous));
}

#[test]
fn steady_noise_is_aligned_all_the_same() {
    let channels =
        (0..2).map(|seed| (0..480_000).map(|n| 0.1 * gaussian(seed, n)).collect()).collect();
    let noise = Memory::new(48_000, channels);
    let late = noise.each(|channel| [&vec![0.0; 30_007], channel].concat());
    let found = compared(&noise, &late);
    assert_eq!(found.at().delay_samples, 30_007.0);
    assert_eq!(found.verdict, Verdict::Identical, "{}", found.sentence);
}

#[test]
fn crumbs_are_compared_or_called_too_short() {
    let crumb = MIX.each(|channel| channel[480_000..500_000].to_vec());
    let found = compared(&crumb, &crumb.each(|channel| chains::delayed(channel, 5.3)));
    found.is_near("delay", Some(found.at().delay_samples), 5.3, 0.01);

    let speck = MIX.each(|channel| channel[480_000..480_500].to_vec());
    assert_eq!(compared(&speck, &speck).verdict, Verdict::Identical);
    let other = compared(&speck, &speck.map(|x| 0.5 * x));
    assert_eq!(other.verdict, Verdict::CannotTell);
    other.has_only(&[Code::TooShort]);

    let nothing = Memory::new(48_000, vec![Vec::new(); 2]);
    assert_eq!(compared(&nothing, &nothing).verdict, Verdict::CannotTell);
    assert_eq!(compared(&MIX, &nothing).verdict, Verdict::CannotTell);
}

#[test]
fn samples_that_are_no_numbers_poison_nothing() {
    let mut export = MIX.clone();
    export.channels[0][600_000] = f64::NAN;
    export.channels[1][700_000] = f64::INFINITY;
    let found = compared(&MIX, &export);
    assert_eq!(found.export.invalid_frames, 2);
    assert!(found.codes().contains(&Code::InvalidInput));
    found.is_near("gain", found.gain_db, 0.0, 0.001);
    assert!(found.charts.thirds.iter().all(|third| third.residual_dbfs.exists()));
}

#[test]
fn quiet_and_sparse_sound_is_compared_too() {
    // −70 dB, with long silences.
    let sparse = MIX.each(|channel| {
        let loud = |n: usize| (n / 96_000) % 4 == 1;
        channel.iter().enumerate().map(|(n, x)| if loud(n) { 3e-4 * x } else { 0.0 }).collect()
    });
    let export = sparse.each(|channel| chains::delayed(channel, 777.25)).map(|x| -0.5 * x);
    let found = compared(&sparse, &export);
    found.is_near("delay", Some(found.at().delay_samples), 777.25, 0.01);
    found.is_near("gain", found.gain_db, -6.0206, 0.01);
}
