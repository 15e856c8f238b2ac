//! Edits: found, placed and not averaged over.

use ledgerline_measure::compare::finding::Code;
use ledgerline_measure::compare::record::{Edit, EditKind, Verdict};
use ledgerline_tests::chains;
use ledgerline_tests::memory::Memory;
use ledgerline_tests::signals::session;

use super::{Found, LONG, compared, gain};

const CUT: usize = 900_321;

/// The only edit, and what is left is the mix to the bit.
fn only_edit(export: &Memory, kind: EditKind, length_s: f64) -> Edit {
    let found = compared(&LONG, export);
    assert_eq!(found.edits.len(), 1, "{:?}", found.edits);
    let edit = found.edits[0];
    assert_eq!(edit.kind, kind, "{}", found.sentence);
    found.is_near("length", Some(edit.length_s), length_s, 1e-9 + edit.error_s);
    assert_eq!(found.residual_dbfs.db(), Some(f64::NEG_INFINITY), "{}", found.sentence);
    assert_eq!(found.verdict, Verdict::Changed);
    found.is_near("gain", found.gain_db, 0.0, 1e-9);
    found.has_only(&[Code::Edited]);
    edit
}

#[test]
fn ten_seconds_removed_are_found_to_the_sample() {
    let edit = only_edit(&chains::without(&LONG, CUT..CUT + 480_000), EditKind::Removed, 10.0);
    let error_s = 2.0 / 48_000.0 + edit.error_s;
    assert!((edit.mix_s - CUT as f64 / 48_000.0).abs() <= error_s, "{edit:?}");
    assert!((edit.export_s - CUT as f64 / 48_000.0).abs() <= error_s, "{edit:?}");
}

#[test]
fn five_seconds_put_in_are_found() {
    let piece = chains::quantised(&session::play(9, 48_000, 5.0), 24, 0);
    let edit = only_edit(&chains::with_piece(&LONG, CUT, &piece), EditKind::Inserted, 5.0);
    assert!((edit.export_s - CUT as f64 / 48_000.0).abs() <= 0.001, "{edit:?}");
}

#[test]
fn lost_buffers_are_found_down_to_a_sample() {
    for frames in [1, 64, 512] {
        let length_s = frames as f64 / 48_000.0;
        only_edit(&chains::without(&LONG, CUT..CUT + frames), EditKind::Removed, length_s);
    }
}

#[test]
fn two_seconds_replaced_are_found_where_they_are() {
    let piece = session::play(9, 48_000, 2.0);
    let mut export = LONG.clone();
    for (channel, piece) in export.channels.iter_mut().zip(&piece.channels) {
        channel[CUT..CUT + piece.len()].copy_from_slice(piece);
    }
    let found = compared(&LONG, &export);
    assert_eq!(found.edits.len(), 1, "{:?}", found.edits);
    assert_eq!(found.edits[0].kind, EditKind::Replaced);
    found.is_near("place", Some(found.edits[0].export_s), CUT as f64 / 48_000.0, 0.02);
    found.is_near("length", Some(found.edits[0].length_s), 2.0, 0.03);
    found.is_near("gain", found.gain_db, 0.0, 0.001);
    found.has_only(&[Code::Edited]);
}

#[test]
fn edits_are_found_behind_gain_rate_and_dither() {
    let cut = chains::without(&LONG, CUT..CUT + 480_000).map(|x| x * gain(-4.0));
    let converted = cut.each(|channel| chains::resampled(channel, 147, 160));
    let mut export = chains::quantised(&converted, 16, 2);
    export.rate_hz = 44_100;
    let found = compared(&LONG, &export);
    assert_eq!(found.edits.len(), 1, "{:?}", found.edits);
    assert_eq!(found.edits[0].kind, EditKind::Removed);
    found.is_near("length", Some(found.edits[0].length_s), 10.0, 0.001);
    found.is_near("gain", found.gain_db, -4.0, 0.001);
}

#[test]
fn ends_that_are_missing_are_told() {
    let frames = LONG.frames();
    let export = LONG.each(|channel| channel[96_000..frames - 144_000].to_vec());
    let found = compared(&LONG, &export);
    assert_eq!(found.at().delay_samples, -96_000.0);
    let kinds: Vec<EditKind> = found.edits.iter().map(|edit| edit.kind).collect();
    assert_eq!(kinds, [EditKind::StartTrimmed, EditKind::EndTrimmed]);
    found.is_near("start", Some(found.edits[0].length_s), 2.0, 1e-6);
    found.is_near("end", Some(found.edits[1].length_s), 3.0, 1e-6);
    assert_eq!(found.verdict, Verdict::Changed);
}
