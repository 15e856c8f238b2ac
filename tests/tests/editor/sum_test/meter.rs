//! What the mixer's own meter showed is typed into the table, what is no number is marked in words
//! and left out, the kind of meter is told, and the test is saved.

use std::path::PathBuf;
use std::sync::Arc;

use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use ledgerline::choices::SumTest;
use ledgerline::params::window::Theme;
use ledgerline::sum_test::desk::{Identified, Question, Saving, SavingDone};
use ledgerline::sum_test::entries::Entries;
use ledgerline::sum_test::save::{SaveError, Saved};
use ledgerline_measure::detector::Detector;
use ledgerline_measure::sum_test::{Played, STEPS, expectations, identify_played};

use super::bus;
use crate::layout::{Checked, SIZES};
use crate::{Scene, click, harness};

/// What a needle shows of the whole band in some steps, on a scale of its own, read to 0.1 dB.
fn needle(steps: &[usize]) -> Entries {
    let expectations = expectations(48_000).expect("a rate at which the test plays");
    let mut entries = Entries { resolution_db: 0.1, ..Entries::default() };
    for step in steps {
        let level = expectations.level(step - 1, 0, Detector::Needle, -20.0).finite();
        entries.shown_db[step - 1] = level.map(|db| ((db + 14.0) * 10.0).round() / 10.0);
    }
    entries
}

/// What the desk makes of entries.
fn told(entries: Entries) -> Arc<Identified> {
    let question = Question { rate_hz: 48_000, entries };
    let readings = entries.readings();
    let result = identify_played(48_000, entries.played, &readings, entries.resolution_db);
    Arc::new(Identified { question, result })
}

fn scene(complete: bool, theme: Theme, entries: Entries) -> Scene {
    let mut scene = bus(complete, theme);
    scene.state.sum_test_view.entries = entries;
    scene.state.sum_test.identified = Some(told(entries));
    scene
}

fn done(result: Result<Saved, SaveError>, entries: Entries) -> Saving {
    Saving::Done(Arc::new(SavingDone { run: 1, entries, result }))
}

/// A complete test with every reading, saved in a folder with a long name.
pub fn saved(theme: Theme) -> Scene {
    let steps: Vec<usize> = (1..=STEPS.len()).filter(|step| *step != 4).collect();
    let entries = needle(&steps);
    let mut scene = scene(true, theme, entries);
    let path = |ending: &str| {
        PathBuf::from(format!(
            "/home/mixing-engineer/.local/share/Ledgerline/log/\
             ledgerline-20261125T101112Z-1234567-12-sum-test.{ending}"
        ))
    };
    let files = Saved { record: path("json"), report: path("html") };
    scene.state.sum_test.saving = done(Ok(files), entries);
    scene
}

/// A complete test with readings that leave many kinds open, in a folder that cannot be written.
pub fn not_saved(theme: Theme) -> Scene {
    let entries = Entries { resolution_db: 1.0, ..needle(&[1, 2, 3]) };
    let mut scene = scene(true, theme, entries);
    let path =
        PathBuf::from("/media/session-drive/ledgerline-20261125T101112Z-4321-1-sum-test.json");
    let error = std::io::Error::from(std::io::ErrorKind::PermissionDenied);
    scene.state.sum_test.saving = done(Err(SaveError::Write(path, error)), entries);
    scene
}

/// Half a test, one reading typed in and another half typed, with the keyboard in its field.
pub fn typing(harness: &mut Harness<'_, Scene>) {
    type_into(harness, "Shown in step 1", "-24");
    type_into(harness, "Shown in step 3", "l8");
    type_into(harness, "Shown in step 5", "-2");
}

fn type_into(harness: &mut Harness<'_, Scene>, label: &str, text: &str) {
    let field = harness.get_by_label(label);
    field.focus();
    field.type_text(text);
    harness.run();
}

fn shown(harness: &Harness<'_, Scene>, step: usize) -> Option<f64> {
    harness.state().state.sum_test_view.entries.shown_db[step - 1]
}

#[test]
fn readings_are_typed_with_every_minus_sign_and_decimal_mark() {
    let mut harness = harness(bus(false, Theme::Dark));
    for (step, text, db) in
        [(1, "3", 3.0), (2, "-17.5", -17.5), (3, "−17.5", -17.5), (5, "-6,25", -6.25)]
    {
        type_into(&mut harness, &format!("Shown in step {step}"), text);
        assert_eq!(shown(&harness, step), Some(db), "{text}");
    }
    assert!(harness.query_by_label("Shown in step 4").is_none(), "the null is asked for");
    click(&mut harness, "Read to: 0.5 dB");
    assert_eq!(harness.state().state.sum_test_view.entries.resolution_db, 0.5);
    click(&mut harness, "Clear the readings");
    let left = harness.state().state.sum_test_view.entries;
    assert_eq!(left, Entries { resolution_db: 0.5, ..Entries::default() });
    assert!(harness.query_by_label("Clear the readings").is_none(), "there is nothing to clear");
}

#[test]
fn a_bad_entry_is_marked_in_words_and_left_out() {
    let mut harness = harness(bus(false, Theme::Dark));
    type_into(&mut harness, "Shown in step 2", "abc");
    type_into(&mut harness, "Shown in step 3", "-1e5");
    assert_eq!((shown(&harness, 2), shown(&harness, 3)), (None, None));
    assert!(harness.query_by_label("Shown in step 2: not a number, ignored").is_some());
    assert!(harness.query_by_label_contains("steps 2 and 3").is_some());
    click(&mut harness, "Clear the readings");
    assert!(harness.query_by_label("Shown in step 2").is_some());
    assert!(harness.query_by_label_contains("Ignored").is_none());
}

#[test]
fn tab_and_enter_lead_from_step_to_step_past_the_null() {
    let mut harness = harness(bus(false, Theme::Dark));
    harness.get_by_label("Shown in step 2").focus();
    harness.run();
    for (text, key) in
        [("-24", Key::Tab), ("-18", Key::Enter), ("-21", Key::Enter), ("-20", Key::Tab)]
    {
        harness.event(egui::Event::Text(text.into()));
        harness.run();
        harness.key_press(key);
        harness.run();
    }
    let steps = [2, 3, 5, 6].map(|step| shown(&harness, step));
    assert_eq!(steps, [Some(-24.0), Some(-18.0), Some(-21.0), Some(-20.0)]);
    assert!(harness.get_by_label("Shown in step 7").is_focused());
    harness.key_press_modifiers(Modifiers::SHIFT, Key::Tab);
    harness.run();
    assert!(harness.get_by_label("Shown in step 6").is_focused());
}

#[test]
fn entries_from_a_saved_state_stand_in_the_fields() {
    let mut harness = harness(bus(true, Theme::Dark));
    type_into(&mut harness, "Shown in step 1", "x");
    let mut entries = Entries::default();
    entries.shown_db[2] = Some(-17.5);
    harness.state_mut().state.sum_test_view.entries = entries;
    harness.run();
    let field = harness.get_by_label("Shown in step 3");
    assert_eq!(field.value().as_deref(), Some("−17.5"));
    assert_eq!(harness.get_by_label("Shown in step 1").value().as_deref(), Some(""));
}

#[test]
fn too_few_readings_say_how_many_are_missing() {
    let harness_with = |steps: &[usize]| harness(scene(true, Theme::Dark, needle(steps)));
    assert!(harness_with(&[]).query_by_label_contains("Any three steps").is_some());
    assert!(harness_with(&[1]).query_by_label_contains("2 more readings are needed").is_some());
    assert!(harness_with(&[1, 5]).query_by_label_contains("1 more reading is needed").is_some());
}

#[test]
fn noises_of_ones_own_are_read_without_audio_and_without_a_test() {
    let mut waiting = bus(false, Theme::Dark);
    waiting.state.sum_test.record = None;
    let mut harness = harness(waiting);
    click(&mut harness, "Played: own");
    for (step, text) in [(1, "-10"), (3, "-4"), (5, "-4")] {
        type_into(&mut harness, &format!("Shown in step {step}"), text);
    }
    assert!(
        harness.query_by_label("Shown in step 13").is_none(),
        "one's own noises have no bursts"
    );
    let entries = harness.state().state.sum_test_view.entries;
    assert_eq!((entries.played, entries.missing()), (Played::Own(None), 0));
    harness.state_mut().state.sum_test.identified = Some(told(entries));
    harness.run();
    for words in [
        "the largest sample, held, whole band",
        "the sum is right: against alone, same is +6.0 dB",
        "The sample rate is not known without audio",
    ] {
        assert!(harness.query_by_label_contains(words).is_some(), "{words}");
    }
}

#[test]
fn the_kind_of_meter_is_told_with_the_likeliest_in_order() {
    let harness = harness(saved(Theme::Dark));
    assert!(harness.query_by_label_contains("on a 300 ms needle, whole band").is_some());
    assert!(harness.query_by_label_contains("1. needle, whole: misfit 0.0").is_some());
    assert!(harness.query_all_by_label_contains("4. ").count() > 0);
    assert!(harness.query_by_label_contains("do not tell apart").is_none());
}

#[test]
fn kinds_that_are_not_told_apart_are_said_with_the_step_that_would_part_them() {
    let scene = not_saved(Theme::Dark);
    let identified = scene.state.sum_test.identified.clone().expect("an answer");
    let meter = identified.result.as_ref().expect("a meter");
    let (kinds, step) = (meter.inseparable[0].len(), meter.further_step.expect("a step").step);
    assert!(kinds > 4 && step > 3, "{kinds} kinds, step {step}");
    let harness = harness(scene);
    let words = format!("{kinds} kinds that these readings do not tell apart");
    assert!(harness.query_by_label_contains(&words).is_some(), "{words}");
    assert!(harness.query_by_label_contains(&format!("Read step {step} too")).is_some());
}

#[test]
fn a_test_is_saved_once_it_is_complete_and_judged() {
    let press = |scene: Scene| {
        let mut harness = harness(scene);
        click(&mut harness, "Save record and report");
        (harness.state().saves, harness)
    };
    assert_eq!(press(bus(true, Theme::Dark)).0, 1);
    let (saves, halfway) = press(bus(false, Theme::Dark));
    assert_eq!(saves, 0);
    assert!(halfway.query_by_label_contains("once it has played to its end").is_some());
    let mut unjudged = bus(true, Theme::Dark);
    let record = unjudged.state.sum_test.record.as_mut().map(Arc::make_mut).expect("a record");
    (record.alignment, record.verdict) =
        (None, Some(ledgerline_measure::sum_test::Verdict::CannotTell));
    let (saves, unjudged) = press(unjudged);
    assert_eq!(saves, 0);
    assert!(unjudged.query_by_label_contains("could not be judged").is_some());
    let mut busy = bus(true, Theme::Dark);
    busy.state.sum_test.saving = Saving::Busy;
    assert_eq!(press(busy).0, 0, "saved twice at once");
}

#[test]
fn where_it_was_saved_is_said_in_full_and_can_be_copied() {
    let mut harness = harness(saved(Theme::Light));
    let path = "/home/mixing-engineer/.local/share/Ledgerline/log/\
                ledgerline-20261125T101112Z-1234567-12-sum-test.json";
    assert!(harness.query_by_label_contains(path).is_some());
    assert!(harness.query_by_label_contains("since then").is_none());
    harness.get_by_label("Copy path").click();
    harness.step();
    let copied = harness
        .output()
        .platform_output
        .commands
        .iter()
        .any(|command| matches!(command, egui::OutputCommand::CopyText(text) if text == path));
    assert!(copied, "nothing was copied");
    type_into(&mut harness, "Shown in step 1", "9");
    assert!(harness.query_by_label_contains("since then is not in it").is_some());
}

#[test]
fn a_folder_that_cannot_be_written_is_said() {
    let harness = harness(not_saved(Theme::Dark));
    let words = "Nothing is saved: /media/session-drive/ledgerline-";
    assert!(harness.query_by_label_contains(words).is_some());
    assert!(harness.query_by_label("Copy path").is_none());
}

#[test]
fn every_text_of_the_meter_is_whole_and_apart_from_every_other() {
    let mut checked = Checked::default();
    for size in SIZES {
        checked.check(&mut saved(Theme::Dark), size, "saved");
        checked.check(&mut not_saved(Theme::Dark), size, "not saved");
        let mut few = scene(false, Theme::Dark, needle(&[1]));
        few.choices.sum_test = SumTest::Bus;
        checked.check(&mut few, size, "one reading");
    }
    checked.conclude(500);
}
