//! A disk on which nothing more can be written, as a limit on the length of files that the system
//! sets for the test's process: writing ends in the middle of a line there, as on a full disk.

use std::path::Path;
use std::process::Command;
use std::sync::Arc;
use std::time::Instant;

use ledgerline::audio::AudioSide;
use ledgerline::background::Background;
use ledgerline::bus::Bus;
use ledgerline::handover::handover;
use ledgerline::log::Log;
use ledgerline::params::LedgerlineParams;
use ledgerline::status::Status;
use ledgerline::sum_test::place::Place;
use ledgerline_tests::alone::alone;
use ledgerline_tests::built::BuiltFor;
use ledgerline_tests::hosts::{ClapHost, Layout, Setup, Take, Vst3Host};
use ledgerline_tests::journal::{files, lines};

use crate::material::noises;

/// Names the folder to the process with the limit.
const FOLDER_VARIABLE: &str = "LEDGERLINE_TEST_FULL_DISK";
/// The limit in POSIX's units of 512 bytes.
const MOST_BLOCKS: u64 = 40;
const SECONDS: usize = 160;
const RATE_HZ: usize = 8000;

/// Runs a test in a process whose files end at the limit, and in which that is an error and not the
/// process's end.
fn with_short_files(name: &str, folder: &Path, test: impl FnOnce(&Path)) {
    if std::env::var_os(FOLDER_VARIABLE).is_some() {
        test(folder);
        return;
    }
    let limit = format!("trap '' XFSZ; ulimit -f {MOST_BLOCKS}; exec \"$0\" \"$@\"");
    let program = std::env::current_exe().expect("a running test");
    let status = Command::new("sh")
        .arg("-c")
        .arg(limit)
        .arg(program)
        .args([name, "--exact", "--nocapture", "--test-threads=1"])
        .env(FOLDER_VARIABLE, folder)
        .status()
        .expect("a shell");
    assert!(status.success(), "with short files: {status}");
}

fn assert_whole_lines(folder: &Path) {
    let files = files(folder);
    assert_eq!(files.len(), 1, "{files:?}");
    let text = std::fs::read_to_string(&files[0]).expect("the log");
    // A shell may count in units of 1024 bytes.
    assert!((text.len() as u64) <= 1024 * MOST_BLOCKS, "no limit: {} bytes", text.len());
    assert!(text.ends_with("}\n"), "half a line: …{}", &text[text.len() - 40..]);
    let lines = lines(&files[0]);
    assert!((20..SECONDS).contains(&lines.len()), "{} lines", lines.len());
}

fn a_full_disk_leaves_whole_lines<H: BuiltFor>(folder: &Path) {
    let take = noises(1, SECONDS * RATE_HZ, 50);
    let mut host = H::load(&H::built()).expect("the plugin");
    host.activate(Setup::new(RATE_HZ as f64, Layout::Mono)).expect("activation");
    let output = host.play(&Take::new(&take)).expect("audio");
    assert_eq!(output, take, "audio passes");
    host.deactivate();
    assert_whole_lines(folder);
}

#[test]
fn in_clap_a_full_disk_leaves_whole_lines() {
    alone(|folder| {
        let name = "full_disk::in_clap_a_full_disk_leaves_whole_lines";
        with_short_files(name, folder, a_full_disk_leaves_whole_lines::<ClapHost>);
    });
}

#[test]
fn in_vst3_a_full_disk_leaves_whole_lines() {
    alone(|folder| {
        let name = "full_disk::in_vst3_a_full_disk_leaves_whole_lines";
        with_short_files(name, folder, a_full_disk_leaves_whole_lines::<Vst3Host>);
    });
}

/// What the editor shows, of the parts that the plugin is made of.
fn the_user_is_told(folder: &Path) {
    let status = Arc::new(Status::default());
    let params = Arc::new(LedgerlineParams::new(Arc::default(), status.clone()));
    let log = Log::new(Some(folder.into()));
    let (publisher, _) = handover();
    let background = Background::new(params.clone(), status.clone(), Arc::default(), log);
    let mut audio = AudioSide::new(params, Arc::default(), publisher, background);
    audio.activate(Bus { rate_hz: RATE_HZ as f64, main: 1, side_chain: 0 }, false);
    let start = Instant::now();
    let says = |what: &str| status.messages().iter().any(|message| message.contains(what));
    while !says("cannot be written") {
        let mut second = [vec![0.1; RATE_HZ]];
        let mut channels: Vec<&mut [f32]> = second.iter_mut().map(Vec::as_mut_slice).collect();
        audio.process(&mut channels, &[], Place::default());
        assert!(start.elapsed().as_secs() < 60, "nobody is told");
        std::thread::sleep(std::time::Duration::from_millis(1));
    }
    assert!(says(".jsonl"), "where: {:?}", status.messages());
    audio.deactivate();
    assert_whole_lines(folder);
}

#[test]
fn the_user_is_told_of_a_full_disk() {
    alone(|folder| {
        with_short_files("full_disk::the_user_is_told_of_a_full_disk", folder, the_user_is_told);
    });
}
