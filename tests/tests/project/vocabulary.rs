//! Whatever the product says, in one vocabulary: the sentences of readings, sum tests and
//! comparisons, the command's output and help, the plugin's parameters, the manual, and, so that
//! nothing is missed, what stands in the sources between quotation marks.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::CommandFactory;
use ledgerline::choices::{Aim, FeedsPlay, Listen, SumTest};
use ledgerline::params::{
    ClipAtKind, FeedsPlayKind, HalvesKind, LedgerlineParams, ListenKind, ReferenceKind,
    SumTestKind, TargetKind, TruePeakKind, WindowKind,
};
use ledgerline_measure::compare::{CompareSettings, compare, limits};
use ledgerline_measure::detector::{Detector, MeterKind};
use ledgerline_measure::sum_test::Feed;
use ledgerline_measure::sum_test::identification::{
    Played, ShownReading, identify, identify_played,
};
use ledgerline_measure::sum_test::schedule::{STEPS, Schedule};
use ledgerline_measure::sum_test::{FaultCode, NoiseKind, audit};
use ledgerline_measure::{
    ClipAt, Edges, Halves, HalvesRow, Level, Reading, RmsReference, RmsWindow, Settings, Target,
    TruePeakFilter, View,
};
use ledgerline_tests::chains;
use ledgerline_tests::command::ledgerline;
use ledgerline_tests::folder::Folder;
use ledgerline_tests::mixer::Mixer;
use ledgerline_tests::readings::read_with;
use ledgerline_tests::signals::{Stereo, amplitude, bench_mix, noise, session, tone};
use ledgerline_tests::vocabulary::sources::{files, literals};
use ledgerline_tests::vocabulary::{check, wrong_words};
use ledgerline_tests::wav;
use nice_plug::prelude::{Enum, Param, Params};

const RATE_HZ: f64 = 48_000.0;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// Sounds that between them set off every kind of finding that a reading has.
fn sounds() -> Vec<Stereo> {
    let white = |seed| noise::white(seed, amplitude(-10.0), 48_000);
    let stereo = |left, right| Stereo::new(RATE_HZ, left, right);
    let inverted = tone::scaled(&white(1), -1.0);
    let with = |sound: &[f32], more: &[f32]| tone::added(sound, more);
    let low = tone::Sine::new(9.0, 0.5).play(RATE_HZ, 1.0);
    let mut broken = white(3);
    broken[100] = f32::NAN;
    let square: Vec<f32> = white(4).iter().map(|x| 0.5 * x.signum()).collect();
    vec![
        stereo(white(1), white(2)),
        stereo(white(1), white(1)),
        stereo(white(1), inverted.clone()),
        stereo(white(1), tone::scaled(&inverted, 0.9)),
        stereo(white(1), tone::delayed(&white(1), 480)),
        stereo(white(1), tone::delayed(&inverted, 2_400)),
        stereo(white(1), tone::scaled(&white(2), 0.5)),
        stereo(white(1), tone::scaled(&white(1), 0.7)),
        stereo(white(1), tone::silence(RATE_HZ, 1.0)),
        stereo(with(&white(1), &tone::dc(RATE_HZ, 0.2, 1.0)), white(2)),
        stereo(with(&white(1), &low), with(&white(2), &low)),
        stereo(tone::scaled(&white(1), 4.0), tone::scaled(&white(2), 4.0)),
        stereo(broken, white(2)),
        stereo(square.clone(), square),
        Stereo::both(RATE_HZ, tone::silence(RATE_HZ, 1.0)),
        bench_mix::play_for(3.0),
    ]
}

/// The readings of a sound, and what others near them would read.
fn sweep(reading: &Reading) -> Vec<Reading> {
    let peaks = [-20.0, -7.0, -1.04, -0.96, 0.0, 3.3, 6.0];
    let mut readings = vec![*reading];
    for sample_db in peaks {
        for true_db in peaks {
            for target in [-40.0, -23.0, -9.0] {
                let mut moved = *reading;
                moved.whole.bus.sample_peak_dbfs = Level::from_db(sample_db);
                moved.audible.bus.true_peak_dbtp = Level::from_db(true_db);
                let view = View {
                    target: Some(Target { value: target, ..Target::default() }),
                    ..View::default()
                };
                readings.push(moved.aimed_at(&view, Edges::default()));
            }
        }
    }
    readings
}

#[test]
fn sentences_of_readings() {
    let mut sentences = Vec::new();
    for sound in sounds() {
        for halves in [Halves::LeftRight, Halves::MainSidechain] {
            let reading = read_with(&sound, Settings::default(), &View::default());
            for mut reading in sweep(&reading) {
                reading.halves = halves;
                let findings = reading.findings.as_slice().iter();
                let findings = findings.map(|finding| finding.between(halves));
                sentences.extend(findings.clone().filter_map(|finding| finding.action()));
                sentences.extend(findings.map(|finding| finding.sentence()));
                for row in HalvesRow::ALL {
                    sentences.push(format!(
                        "{}: {}",
                        row.word(halves),
                        row.write(&reading.whole, 1)
                    ));
                    sentences.push(format!("{}: {}", row.short(halves), row.explanation(halves)));
                }
            }
        }
    }
    assert!(check("readings", sentences) > 10_000);
}

#[test]
fn sentences_of_sum_tests() {
    let schedule = Schedule::new(48_000).expect("a rate of the test");
    let feeds = [Feed::One, Feed::Two].map(|feed| feed.all(&schedule, -20.0));
    let clean = Mixer::clean(3, RATE_HZ);
    let mixers = [
        clean.clone(),
        Mixer { channel_gains: [1.0, 0.8], clip: 0.12, ..Mixer::default() },
        Mixer { channel_gains: [1.0, -1.0], ..Mixer::default() },
        Mixer { channel_gains: [1.0, 0.0], ..Mixer::default() },
        Mixer { channel_delays_frames: [0.0, 3.5], band_hz: Some(15_973.0), ..Mixer::default() },
        Mixer { both_gain: 0.9, ..Mixer::default() },
        Mixer { noise_rms: 0.05, ..Mixer::default() },
    ];
    let mut sentences: Vec<String> = Vec::new();
    for mixer in &mixers {
        let recording = mixer.record([&feeds[0], &feeds[1]], RATE_HZ);
        match audit(&[&recording], 48_000, -20.0) {
            Ok(audit) => {
                sentences.push(audit.sentence);
                sentences.push(audit.verdict.word().into());
                sentences.extend(audit.faults.into_iter().map(|fault| fault.sentence));
            }
            Err(error) => sentences.push(error.to_string()),
        }
        let half = &recording[..recording.len() / 2];
        sentences.extend(audit(&[half], 48_000, -20.0).err().map(|error| error.to_string()));
    }
    let two = audit(&[&feeds[0], &feeds[1]], 48_000, -20.0).expect("a recording of the test");
    sentences.push(two.sentence);
    for shown in [
        vec![(1, -24.0), (2, -24.0), (3, -18.0), (5, -18.0)],
        vec![(1, -24.0), (3, -18.0), (5, -21.0), (8, -24.0)],
        vec![(1, 0.0), (2, -40.0), (3, 7.0)],
        vec![(1, 0.0)],
    ] {
        let readings: Vec<ShownReading> =
            shown.into_iter().map(|(step, shown_db)| ShownReading { step, shown_db }).collect();
        sentences.push(match identify(48_000, &readings, 0.5) {
            Ok(meter) => meter.sentence,
            Err(error) => error.to_string(),
        });
    }
    sentences.extend(meters());
    sentences.extend(STEPS.iter().map(|step| step.name.to_owned()));
    sentences.extend(Detector::ALL.iter().map(|detector| detector.word().to_owned()));
    sentences.extend(MeterKind::all().flat_map(|model| [model.word(), model.short()]));
    sentences.push(FaultCode::PolarityTurned.word().into());
    check("sum tests", sentences);
}

/// What numbers alone say of meters and sums.
fn meters() -> Vec<String> {
    let mut sentences = Vec::new();
    for played in [Played::Own(None), Played::Own(Some(NoiseKind::Pink)), Played::Schedule] {
        for shown in [
            vec![(1, -10.0), (3, -4.0), (5, -4.0), (4, f64::NEG_INFINITY)],
            vec![(3, -4.0), (5, -7.0), (7, -7.0)],
            vec![(1, -10.0), (3, -6.0), (5, -12.0), (4, -22.0)],
            vec![(1, -10.0), (3, -20.0), (2, -10.0), (4, -4.0)],
            vec![(1, -10.0), (2, -13.0), (5, -7.0)],
            vec![(3, -4.0), (1, -4.0), (5, -4.0)],
            vec![(1, -10.0), (16, -4.0), (5, -4.0)],
        ] {
            let readings: Vec<ShownReading> =
                shown.into_iter().map(|(step, shown_db)| ShownReading { step, shown_db }).collect();
            match identify_played(48_000, played, &readings, 1.0) {
                Ok(meter) => {
                    sentences.extend([meter.sentence, meter.assumed]);
                    sentences.extend(meter.summing.map(|summing| summing.sentence));
                }
                Err(error) => sentences.push(error.to_string()),
            }
        }
    }
    sentences
}

#[test]
fn sentences_of_comparisons() {
    let mix = chains::quantised(&session::play(1, 48_000, 12.0), 24, 0);
    let mut silenced = mix.clone();
    silenced.channels[0][200_000..200_040].fill(0.0);
    let swapped = mix.with(vec![mix.channels[1].clone(), mix.channels[0].clone()]);
    let exports = [
        mix.clone(),
        mix.map(|x| -0.5 * x),
        chains::quantised(&mix.map(|x| 0.9 * x), 16, 2),
        chains::quantised(&mix, 16, 0),
        mix.each(|channel| chains::delayed(channel, 480.25)),
        mix.each(|channel| chains::cut_off(channel, 0.3)),
        chains::limited(&mix.map(|x| 2.0 * x), 0.3, 0.05),
        chains::without(&mix, 240_000..288_000),
        chains::with_piece(&mix, 100_000, &session::play(7, 48_000, 2.0)),
        mix.map(|x| (4.0 * x).clamp(-1.0, 1.0)),
        mix.map(|x| x + 0.01),
        swapped,
        silenced,
        session::play(5, 48_000, 12.0),
        mix.map(|_| 0.0),
    ];
    let mut sentences = Vec::new();
    for mut export in exports {
        let found =
            compare(&mut mix.clone(), &mut export, &CompareSettings::default(), &mut |_| ())
                .expect("memory does not fail");
        sentences.push(found.judged_as());
        sentences.extend(limits::of(&found).into_iter().map(|limit| limit.found));
        sentences.push(found.sentence);
        sentences.push(found.verdict.word().into());
        sentences.extend(found.outside);
        for finding in found.findings {
            sentences.push(finding.sentence);
            sentences.extend(finding.advice);
        }
        sentences.extend(found.edits.iter().map(|edit| edit.kind.word().to_owned()));
        sentences.extend(found.spots.iter().map(|spot| spot.kind.word().to_owned()));
        sentences.extend(found.polarity.map(|polarity| polarity.word().to_owned()));
        sentences.extend(found.channels.map(|map| map.word().to_owned()));
    }
    check("comparisons", sentences);
}

#[test]
fn what_the_command_prints_and_its_help() {
    let folder = Folder::new("vocabulary");
    let write = |name: &str, sound: &Stereo| {
        let path = folder.path(name);
        wav::write(&path, sound.rate_hz as u32, &sound.channels());
        path
    };
    let ferry = bench_mix::play_for(4.0);
    let mix = write("mix.wav", &ferry);
    let [left, right] = [&ferry.left, &ferry.right].map(|half| tone::scaled(half, -0.5));
    let export = write("export.wav", &Stereo::new(ferry.rate_hz, left, right));
    let schedule = Schedule::new(48_000).expect("a rate of the test");
    let feeds = [Feed::One, Feed::Two].map(|feed| feed.all(&schedule, -20.0));
    let bad = Mixer { channel_gains: [1.0, 0.8], ..Mixer::default() };
    let recording = folder.path("bad.wav");
    wav::write(&recording, 48_000, &[&bad.record([&feeds[0], &feeds[1]], RATE_HZ)]);
    let lines = [
        vec!["read", &mix],
        vec!["read", "--full", &mix, &export],
        vec!["read", &mix, &export],
        vec!["read", "--halves", "main-sidechain", &mix],
        vec!["compare", &mix, &export],
        vec!["audit", &recording],
        vec!["audit", &recording, "--table"],
        vec!["audit", &recording, "--shown", "1=-24", "2=-26", "3=-19", "5=-22"],
    ];
    let printed = lines.map(|words| ledgerline(&words).1.replace(folder.path("").as_str(), ""));
    let lines = printed.iter().flat_map(|text| text.lines());
    assert!(check("the command", lines) > 100);

    let mut command = ledgerline_cli::Command::command();
    let names: Vec<String> =
        command.get_subcommands().map(|task| task.get_name().to_owned()).collect();
    let mut help = vec![command.render_long_help().to_string()];
    for name in names {
        let task = command.find_subcommand_mut(&name).expect("a task");
        help.push(task.render_long_help().to_string());
    }
    // Help shows what can be typed, in which a minus is a hyphen.
    let found: Vec<String> =
        help.iter().flat_map(|text| text.lines()).flat_map(wrong_words).collect();
    assert!(found.is_empty(), "{}", found.join("\n"));
}

/// Name and values of a parameter.
fn of(param: &impl Param) -> Vec<String> {
    let value = |step: u8| param.normalized_value_to_string(f32::from(step) / 20.0, true);
    std::iter::once(param.name().to_owned()).chain((0..=20).map(value)).collect()
}

#[test]
fn parameters_are_called_as_the_screen_calls_them() {
    let params = LedgerlineParams::new(Arc::default(), Arc::default());
    let p = &params;
    let shown = [
        of(&p.target_kind),
        of(&p.target),
        of(&p.ceiling),
        of(&p.low_edge),
        of(&p.high_edge),
        of(&p.halves),
        of(&p.rms_window),
        of(&p.rms_reference),
        of(&p.peak_hold),
        of(&p.true_peak),
        of(&p.clip_at),
        of(&p.listen),
        of(&p.sum_test),
        of(&p.feed_level),
        of(&p.feed_offline),
        of(&p.reset),
        of(&p.log),
        of(&p.mark),
        of(&p.bypass),
        of(&p.your_meter),
        of(&p.your_meter_band),
        of(&p.your_meter_offset),
        of(&p.feeds_play),
        of(&p.loop_pair),
    ];
    assert_eq!(shown.len(), params.param_map().len(), "a parameter is missing here");
    assert!(check("parameters", shown.concat()) > 300);
}

#[test]
fn values_are_called_as_the_screen_calls_them() {
    fn same<E, T>(plain: impl IntoIterator<Item = T>, word: impl Fn(&T) -> &'static str)
    where
        E: Enum + From<T>,
    {
        for plain in plain {
            let word = word(&plain).to_lowercase();
            let name = E::variants()[E::from(plain).to_index()].to_lowercase();
            // A unit may stand behind the name.
            assert!(name == word || name.starts_with(&format!("{word} (")), "{name}: {word}");
        }
    }
    same::<FeedsPlayKind, _>(FeedsPlay::ALL, |plays| plays.word());
    same::<TargetKind, _>([Aim::None, Aim::Loudness, Aim::Rms, Aim::Peak], |aim| aim.word());
    same::<HalvesKind, _>([Halves::LeftRight, Halves::MainSidechain], |halves| halves.word());
    let windows = [RmsWindow::Short, RmsWindow::Medium, RmsWindow::Long, RmsWindow::SinceReset];
    same::<WindowKind, _>(windows, |window| window.word());
    let references = [RmsReference::FullScaleSquare, RmsReference::FullScaleSine];
    same::<ReferenceKind, _>(references, |reference| reference.word());
    let filters = [TruePeakFilter::Interpolated, TruePeakFilter::Bs1770];
    same::<TruePeakKind, _>(filters, |filter| filter.word());
    same::<ClipAtKind, _>([ClipAt::FullScale, ClipAt::Ceiling], |limit| limit.word());
    let listen = [Listen::Off, Listen::Audible, Listen::Hidden, Listen::Damage];
    same::<ListenKind, _>(listen, |listen| listen.word());
    let roles = [SumTest::Off, SumTest::Feed1, SumTest::Feed2, SumTest::Bus];
    same::<SumTestKind, _>(roles, |role| role.word());
}

/// A page without what is typed or named in code.
fn prose(page: &str) -> String {
    page.split('`').step_by(2).collect::<Vec<_>>().join("…")
}

#[test]
fn the_manual_and_the_other_pages() {
    // These two define the records' readings, where halves are A and B.
    let formulas = ["method.md", "sum-test.md", "libraries.md", "figures.md"];
    let mut pages = files(&root().join("docs"), "md");
    pages.push(root().join("README.md"));
    let mut read = 0;
    for page in &pages {
        let name = page.file_name().and_then(|name| name.to_str()).unwrap_or_default();
        if formulas.contains(&name) {
            continue;
        }
        let text = std::fs::read_to_string(page).expect("a page");
        read += check(name, prose(&text).split(['\n', '|']));
    }
    assert!(read > 100, "{read}");
}

#[test]
fn whatever_stands_in_the_sources_between_quotation_marks() {
    let folders = [
        "plugin/measure/src",
        "plugin/report/src",
        "plugin/cli/src",
        "plugin/insert/src",
        "xtask/src/demo",
    ];
    let mut found = Vec::new();
    let mut read = 0;
    for path in folders.iter().flat_map(|folder| files(&root().join(folder), "rs")) {
        let source = std::fs::read_to_string(&path).expect("a source");
        for literal in literals(&source) {
            read += 1;
            let name = path.display();
            found.extend(wrong_words(&literal).into_iter().map(|wrong| format!("{name}: {wrong}")));
        }
    }
    assert!(read > 2_000, "{read} literals");
    assert!(found.is_empty(), "{}", found.join("\n"));
}
