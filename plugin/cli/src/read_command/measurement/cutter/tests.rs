use super::*;

const LENGTH: u64 = 1000;
const LEAD: u64 = 200;

/// The frames that each part was given, and where it was told that it ends.
fn parts_of(frames: u64, block: usize) -> Vec<(u64, std::ops::Range<u64>, Option<u64>)> {
    let held = Held::new(u64::MAX);
    let (parts, begun) = channel();
    let mut cutter = Cutter::new(LENGTH, LEAD, Arc::clone(&held), parts);
    let signal: Vec<f32> = (0..frames).map(|frame| frame as f32).collect();
    for samples in signal.chunks(block) {
        assert!(cutter.take(vec![samples.to_vec()]));
    }
    cutter.finish();
    let told = begun.into_iter().map(|part| {
        let (mut given, mut end) = (None::<std::ops::Range<u64>>, None);
        for piece in part.pieces {
            match piece {
                Piece::EndsAt(frame) => {
                    assert!(given.as_ref().is_none_or(|given| given.end <= frame), "told too late");
                    end = Some(frame);
                }
                Piece::Block(block) => {
                    assert_eq!(block.channels[0][0], block.first as f32);
                    let first = given.as_ref().map_or(block.first, |given| given.start);
                    assert!(given.is_none_or(|given| given.end == block.first), "a gap");
                    given = Some(first..block.end());
                }
            }
        }
        (part.start, given.expect("blocks"), end)
    });
    let parts = told.collect();
    assert_eq!(held.state.lock().expect("no panic").frames, 0, "everything was given back");
    parts
}

#[test]
fn each_part_is_given_what_it_needs_and_the_last_one_the_rest() {
    for block in [1, 64, 150, 777, 5000] {
        for frames in [1, 999, 1000, 1001, 1199, 1200, 1201, 2000, 2199, 2200, 4321] {
            let parts = parts_of(frames, block);
            let last = parts.len() - 1;
            for (index, (start, given, end)) in parts.into_iter().enumerate() {
                let what = format!("part {index} of {frames} frames in blocks of {block}");
                assert_eq!(start, index as u64 * LENGTH, "{what}");
                assert!(given.start <= start.saturating_sub(LEAD), "{what}: {given:?}");
                if index < last {
                    assert_eq!(end, Some(start + LENGTH), "{what}");
                    assert!(given.end >= start + LENGTH + LEAD, "{what}: {given:?}");
                } else {
                    assert_eq!((end, given.end), (None, frames), "{what}");
                    assert!(index == 0 || frames >= start + LEAD, "{what}: too short");
                }
            }
            let long_enough = frames.saturating_sub(LEAD) / LENGTH;
            assert_eq!(last as u64, long_enough, "{frames} frames in blocks of {block}");
        }
    }
}

#[test]
fn whoever_decodes_waits_for_room_and_is_let_go_in_the_end() {
    let held = Held::new(100);
    let (parts, begun) = channel();
    let mut cutter = Cutter::new(LENGTH, LEAD, Arc::clone(&held), parts);
    let first = begun.recv().expect("the first part");
    std::thread::scope(|scope| {
        let decoder = scope.spawn(move || {
            let mut taken = 0u64;
            while cutter.take(vec![vec![0.0; 60]]) {
                taken += 60;
            }
            taken
        });
        let mut measured = 0;
        while measured < 900 {
            let Ok(Piece::Block(block)) = first.pieces.recv() else { panic!("no block") };
            measured += block.frames();
            drop(block);
            // One block may go beyond what there is room for.
            assert!(held.state.lock().expect("no panic").frames < 100 + 60);
        }
        drop(Closing(&held));
        let taken = decoder.join().expect("no panic");
        assert!((measured..=measured + 3 * 60).contains(&taken), "{taken} of {measured}");
    });
}
