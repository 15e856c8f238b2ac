//! Files that are held in memory, and played by several threads, against such as are read again.

use ledgerline_tests::chains;
use ledgerline_tests::memory::Memory;

use super::{Found, LONG, compared};

/// A sound in single precision: such a file is held, unless it is long.
fn in_single(memory: &Memory) -> Memory {
    memory.map(|x| f64::from(0.9 * x as f32))
}

/// The same with something in it that single precision does not hold: such a file is read again.
fn in_double(memory: &Memory) -> Memory {
    memory.map(|x| x + 1e-12)
}

#[test]
fn a_file_that_is_read_again_is_compared_as_one_that_is_held() {
    let late = |channel: &[f64]| chains::delayed(channel, 1_234.3);
    let exports = [
        LONG.each(late).map(|x| 0.7 * x),
        LONG.each(|channel| chains::shaped(channel, |hz| 1.0 / (1.0 + (hz / 9_000.0).powi(4)))),
        chains::without(&LONG, 700_000..760_000),
        LONG.each(|channel| chains::resampled(channel, 100_010, 100_000)),
    ];
    let mix = in_single(&LONG);
    for export in exports {
        let export = in_single(&export);
        let found = compared(&mix, &export);
        let again = compared(&in_double(&mix), &in_double(&export));
        assert_eq!(found.codes(), again.codes(), "{}\n{}", found.sentence, again.sentence);
        assert_eq!(found.edits, again.edits);
        let (at, again_at) = (found.at(), again.at());
        again.is_near("delay", Some(again_at.delay_samples), at.delay_samples, 1e-4);
        assert_eq!(found.gain_db.is_some(), again.gain_db.is_some());
        if let Some(gain_db) = found.gain_db {
            again.is_near("gain", again.gain_db, gain_db, 1e-5);
        }
    }
}
