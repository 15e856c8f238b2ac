//! What the screen is shown with: all of it made by the plugin itself from sound, in every state that
//! matters.

use std::collections::HashMap;
use std::sync::{LazyLock, Mutex, PoisonError};

use ledgerline::choices::Choices;
use ledgerline_measure::detector::Detector;
use ledgerline_tests::signals::switching::{Kind, Panning, Sources, Switching};
use ledgerline_tests::signals::tone::{Sine, added, scaled};
use ledgerline_tests::signals::{Stereo, ferry, noise, session};
use ledgerline_tests::watched::{Instance, Watched, watch};

/// Sample rate of what does not ask for another, in Hz.
const RATE_HZ: f64 = 48_000.0;

/// The kind of meter that is the user's own in the fixture of that name.
pub const YOURS: Detector = Detector::SamplePeak;

/// All of them by name.
pub const ALL: [&str; 13] = [
    "ferry", "noises", "apart", "clean", "loud", "live", "silence", "paused", "nothing", "mono",
    "extreme", "reset", "yours",
];

/// What the editor is given; made once.
pub fn fixture(name: &str) -> Watched {
    static MADE: LazyLock<Mutex<HashMap<String, Watched>>> = LazyLock::new(Mutex::default);
    let mut made = MADE.lock().unwrap_or_else(PoisonError::into_inner);
    made.entry(name.to_owned()).or_insert_with(|| make(name)).clone()
}

fn make(name: &str) -> Watched {
    match name {
        "ferry" => watch(&ferry::play()),
        "noises" => watch(&switched(Panning::Middle)),
        "apart" => watch(&switched(Panning::Apart)),
        "clean" => watch(&piece(1, 70.0, 0.5)),
        "loud" => watch(&loud()),
        "live" => live(),
        "silence" => watch(&Stereo::both(RATE_HZ, vec![0.0; 12 * RATE_HZ as usize])),
        "paused" => {
            let mut instance = Instance::new(RATE_HZ, 2);
            instance.play(&piece(4, 30.0, 0.5).channels()).silence(25.0).watched()
        }
        "nothing" => Watched {
            snapshot: ledgerline::handover::Snapshot::default(),
            history: ledgerline::history::History::default(),
            entries: ledgerline::entries::board::Told::default(),
        },
        "mono" => {
            let sound = piece(5, 40.0, 0.6);
            Instance::new(RATE_HZ, 1).play(&[&sound.left]).watched()
        }
        "extreme" => extreme(),
        "yours" => {
            let choices = Choices { meter_detector: Some(YOURS), ..Choices::default() };
            let mut instance = Instance::choosing(RATE_HZ, 2, choices);
            instance.play(&switched(Panning::Middle).channels()).watched()
        }
        "reset" => {
            let [first, second] = [piece(6, 20.0, 0.5), piece(7, 20.0, 0.3)];
            let mut instance = Instance::new(RATE_HZ, 2);
            instance.play(&first.channels()).reset().play(&second.channels());
            instance.mark().play(&first.channels()).stop().play(&second.channels()).watched()
        }
        _ => panic!("no fixture is called {name}"),
    }
}

/// One noise on both, two, one with a copy of itself 50 ms late, and one alone.
fn switched(panning: Panning) -> Stereo {
    let states = [Sources::Same, Sources::Independent, Sources::Same, Sources::Copy(0.05, 0.0)];
    let switching = Switching {
        kind: Kind::Uniform,
        peak_dbfs: -10.0,
        rate_hz: RATE_HZ,
        each_s: 7.0,
        states: &states,
    };
    switching.play(panning)
}

/// A piece of music with its peak there.
pub fn piece(seed: u64, length_s: f64, peak: f64) -> Stereo {
    let memory = session::play(seed, RATE_HZ as u32, length_s);
    let channel = |index: usize| -> Vec<f32> {
        memory.channels[index].iter().map(|x| (x * peak / 0.8) as f32).collect()
    };
    Stereo::new(RATE_HZ, channel(0), channel(1))
}

/// Music that goes over full scale now and then.
fn loud() -> Stereo {
    let sound = piece(2, 60.0, 1.0);
    let gained = |channel: &[f32]| scaled(channel, 1.12);
    Stereo::new(RATE_HZ, gained(&sound.left), gained(&sound.right))
}

/// Half an hour of a show: pieces and talk, a hum that comes after a while, pauses.
fn live() -> Watched {
    let mut instance = Instance::new(RATE_HZ, 2);
    for song in 0..9 {
        let sound = piece(20 + song, 60.0, [0.5, 0.62, 0.4][song as usize % 3]);
        let with_lows = |channel: &[f32]| -> Vec<f32> {
            if song < 4 {
                return channel.to_vec();
            }
            added(channel, &Sine::new(13.0, 0.12).play(RATE_HZ, 60.0))
        };
        let (left, right) = (with_lows(&sound.left), with_lows(&sound.right));
        for _ in 0..3 {
            instance.play(&[&left, &right]);
        }
        instance.silence(20.0);
    }
    instance.watched()
}

/// What no mix should have: enormous levels, what is no number, silence beside them.
fn extreme() -> Watched {
    let mut huge = noise::white(3, 9e5, 4 * 768_000);
    for index in (0..huge.len()).step_by(501) {
        huge[index] = f32::NAN;
    }
    let silent = vec![0.0; huge.len()];
    let mut instance = Instance::new(768_000.0, 2);
    instance.play(&[&huge, &silent]).mark().play(&[&silent, &huge]).watched()
}
