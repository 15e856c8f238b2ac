//! What a feed does where the transport starts, stops and jumps, and where it is switched.

use super::*;

const RATE_HZ: u32 = 48_000;
const FADE_FRAMES: usize = 960;
const LEVEL_DBFS: f64 = -20.0;
/// In the middle of step 1's noise.
const IN_NOISE: i64 = 250_000;

fn at(frame: i64) -> Place {
    Place { playing_at: Some(frame), ..STOPPED }
}

/// A feed of the test.
const fn test(feed: Feed, level_dbfs: f64) -> Wanted {
    Some(Part { feed, level_dbfs, repeats: None })
}

const STOPPED: Place = Place { playing_at: None, loop_frames: None };

/// Plays blocks of 512 frames over an input of `input`, from `frame` on.
fn play(player: &mut FeedPlayer, wanted: Wanted, from: Option<i64>, input: &[f32]) -> Vec<f32> {
    let mut output = input.to_vec();
    let mut place = Place { playing_at: from, ..STOPPED };
    for block in output.chunks_mut(512) {
        let length = block.len();
        player.process(wanted, place, &mut [block]);
        place = place.after(length);
    }
    output
}

fn pure(from: i64, frames: usize) -> Vec<f32> {
    let mut samples = vec![0.0; frames];
    let schedule = Schedule::new(RATE_HZ).unwrap();
    Feed::One.fill(&schedule, from as u64, LEVEL_DBFS, &mut samples);
    samples
}

fn assert_same(output: &[f32], expected: &[f32]) {
    for (frame, (x, y)) in output.iter().zip(expected).enumerate() {
        assert_eq!(x.to_bits(), y.to_bits(), "frame {frame}: {x} for {y}");
    }
}

fn largest(samples: &[f32]) -> f32 {
    samples.iter().fold(0.0, |held, x| held.max(x.abs()))
}

const WANTED: Wanted = test(Feed::One, LEVEL_DBFS);

#[test]
fn from_the_beginning_it_is_the_pure_function_from_the_first_sample() {
    let mut player = FeedPlayer::new(f64::from(RATE_HZ));
    let output = play(&mut player, WANTED, Some(0), &[f32::NAN; 300_000]);
    assert_same(&output, &pure(0, 300_000));
}

#[test]
fn in_the_middle_it_fades_in_and_is_exact_afterwards() {
    let mut player = FeedPlayer::new(f64::from(RATE_HZ));
    let output = play(&mut player, WANTED, Some(IN_NOISE), &[0.5; 9600]);
    let expected = pure(IN_NOISE, 9600);
    assert_same(&output[FADE_FRAMES..], &expected[FADE_FRAMES..]);
    assert!(largest(&output[..48]) < 0.02 * largest(&expected), "no fade");
}

#[test]
fn a_stopped_transport_fades_to_digital_silence() {
    let mut player = FeedPlayer::new(f64::from(RATE_HZ));
    let silent = play(&mut player, WANTED, None, &[0.5; 4096]);
    assert!(silent.iter().all(|x| *x == 0.0), "sound before the transport ran");
    play(&mut player, WANTED, Some(IN_NOISE), &[0.5; 5120]);
    let mut block = [0.5; 2048];
    player.process(WANTED, STOPPED, &mut [&mut block]);
    let expected = pure(IN_NOISE + 5120, 2048);
    assert!((block[0] - expected[0]).abs() < 1e-4, "a step where it stops");
    assert!(largest(&block[FADE_FRAMES / 2..]) <= 0.5 * largest(&expected) + 1e-6);
    assert!(block[FADE_FRAMES..].iter().all(|x| *x == 0.0));
}

#[test]
fn a_jump_fades_from_place_to_place_and_is_never_louder() {
    let mut player = FeedPlayer::new(f64::from(RATE_HZ));
    play(&mut player, WANTED, Some(IN_NOISE), &[0.5; 5120]);
    let there = IN_NOISE + 40_001;
    let output = play(&mut player, WANTED, Some(there), &[0.5; 5120]);
    assert_same(&output[FADE_FRAMES..], &pure(there, 5120)[FADE_FRAMES..]);
    assert!(largest(&output) <= 0.1 + 1e-6);
    assert!((output[0] - pure(IN_NOISE + 5120, 1)[0]).abs() < 1e-4, "a step where it jumps");
}

#[test]
fn a_level_above_the_limit_plays_at_the_limit() {
    let mut player = FeedPlayer::new(f64::from(RATE_HZ));
    let loud = test(Feed::One, 12.0);
    let output = play(&mut player, loud, Some(IN_NOISE), &[0.0; 48_000]);
    let limit = 10f32.powf(-6.0 / 20.0);
    assert!(largest(&output) <= limit && largest(&output) > 0.99 * limit);
}

#[test]
fn a_level_dragged_along_is_heard_and_ends_exact() {
    let mut player = FeedPlayer::new(f64::from(RATE_HZ));
    let mut frame = IN_NOISE;
    let mut loudest = 0f32;
    for step in 0..200 {
        let mut block = [0.0; 256];
        let wanted = test(Feed::One, -40.0 + 0.1 * f64::from(step));
        player.process(wanted, at(frame), &mut [&mut block]);
        loudest = loudest.max(largest(&block));
        frame += 256;
    }
    assert!(loudest > 0.05, "{loudest}");
    let output = play(&mut player, WANTED, Some(frame), &[0.0; 9600]);
    assert_same(&output[4 * FADE_FRAMES..], &pure(frame, 9600)[4 * FADE_FRAMES..]);
}

#[test]
fn switched_off_the_input_is_back_bit_for_bit() {
    let input: Vec<f32> = (0..4096)
        .map(|n| if n % 3 == 0 { f32::from_bits(0x7fa0_1234) } else { n as f32 * 1e-4 })
        .collect();
    let mut player = FeedPlayer::new(f64::from(RATE_HZ));
    assert_same(&play(&mut player, None, Some(0), &input), &input);
    play(&mut player, WANTED, Some(IN_NOISE), &input);
    let output = play(&mut player, None, Some(IN_NOISE + 4096), &input);
    assert!(output[..FADE_FRAMES].iter().all(|x| x.is_finite()));
    assert_same(&output[FADE_FRAMES..], &input[FADE_FRAMES..]);
    assert_same(&play(&mut player, None, None, &input), &input);
}

#[test]
fn without_a_schedule_a_feed_is_silence() {
    for rate_hz in [8000.0, 44_100.5, 0.0, f64::NAN, 1e12] {
        let mut player = FeedPlayer::new(rate_hz);
        let output = play(&mut player, WANTED, Some(IN_NOISE), &[0.5; 4096]);
        assert!(output.iter().all(|x| *x == 0.0), "at {rate_hz} Hz");
    }
}

/// Changes that come faster than fades: none cuts another off, and nothing adds up to more than was
/// asked for at some time.
#[test]
fn changes_within_a_fade_never_jump_and_never_add_up() {
    let input_level = 0.3;
    let level = 10f32.powf(LEVEL_DBFS as f32 / 20.0);
    let wishes: [(Wanted, Option<i64>); 6] = [
        (test(Feed::One, LEVEL_DBFS), Some(0)),
        (test(Feed::Two, LEVEL_DBFS), Some(0)),
        (None, Some(0)),
        (test(Feed::One, LEVEL_DBFS), Some(30_000)),
        (test(Feed::One, LEVEL_DBFS), Some(0)),
        (test(Feed::Two, LEVEL_DBFS - 6.0), None),
    ];
    for every in [64_usize, 128, 320, 640, 1000] {
        let mut player = FeedPlayer::new(f64::from(RATE_HZ));
        let (mut frame, mut shares) = (IN_NOISE, Vec::new());
        play(&mut player, None, Some(frame), &[input_level; 512]);
        for (wanted, shift) in wishes.into_iter().cycle().take(60) {
            let mut block = vec![input_level; every];
            let place = Place { playing_at: shift.map(|shift| frame + shift), ..STOPPED };
            player.process(wanted, place, &mut [&mut block]);
            frame += every as i64;
            let loudest = largest(&block);
            assert!(loudest <= input_level + level * 1e-3, "{loudest}, a change every {every}");
            // Everything that sounds is known, and with it how much of each there is.
            let whole = player.fade_frames;
            let voices = [player.playing, player.leaving].map(|v| v.map_or(0, |v| v.faded));
            let input = player.input.expect("a block has passed");
            assert!(voices[0] + voices[1] + input <= whole, "{voices:?} and {input} of {whole}");
            shares.push((voices, input));
        }
        assert!(shares.iter().any(|(_, input)| *input > 0), "the input never came back");
        for pair in shares.windows(2) {
            let ((before, _), (after, _)) = (pair[0], pair[1]);
            // A voice ends only by having faded out.
            let sounded: u32 = before.iter().sum();
            let sounds: u32 = after.iter().sum();
            assert!(sounded.saturating_sub(sounds) <= 2 * every as u32, "{before:?}, {after:?}");
        }
    }
}

#[test]
fn the_loop_is_the_pattern_wherever_it_begins_and_changes_by_a_fade() {
    let wanted = |noise, each_s| {
        Some(Part { feed: Feed::Two, level_dbfs: LEVEL_DBFS, repeats: Some((noise, each_s)) })
    };
    let pattern = |noise, each_s, from, frames: usize| {
        let mut samples = vec![0.0; frames];
        let pattern = Pattern::new(RATE_HZ, noise, each_s).expect("a pattern");
        pattern.fill(Feed::Two, from, LEVEL_DBFS, &mut samples);
        samples
    };
    for from in [-96_000, 0, 5_000_000_000] {
        let mut player = FeedPlayer::new(f64::from(RATE_HZ));
        let frames = 300_000;
        let output =
            play(&mut player, wanted(NoiseKind::Uniform, 6.0), Some(from), &[0.5; 300_000]);
        let expected = pattern(NoiseKind::Uniform, 6.0, from, frames);
        assert_same(&output[FADE_FRAMES..], &expected[FADE_FRAMES..]);
        assert!(largest(&output[..48]) < 0.02 * largest(&expected), "no fade");
        for (noise, each_s) in [(NoiseKind::Pink, 6.0), (NoiseKind::Pink, 7.0)] {
            let from = from + frames as i64;
            let mut player = player_at(from, wanted(NoiseKind::Uniform, 6.0));
            let output = play(&mut player, wanted(noise, each_s), Some(from), &[0.5; 9_600]);
            let (before, after) =
                (pattern(NoiseKind::Uniform, 6.0, from, 1), pattern(noise, each_s, from, 9_600));
            assert!((output[0] - before[0]).abs() < 1e-4, "a step where it changes");
            assert_same(&output[FADE_FRAMES..], &after[FADE_FRAMES..]);
        }
    }
}

/// A player that has played what is wanted for a while and comes to a frame.
fn player_at(frame: i64, wanted: Wanted) -> FeedPlayer {
    let mut player = FeedPlayer::new(f64::from(RATE_HZ));
    play(&mut player, wanted, Some(frame - 5_120), &[0.0; 5_120]);
    player
}
