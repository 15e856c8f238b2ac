//! Comparisons through the command of real sound before and after chains whose effect is known: the
//! small set of the bench that `cargo xtask chains` runs.

mod known;

use std::collections::BTreeSet;
use std::io::{Error, Result};
use std::path::Path;
use std::sync::Mutex;

use ledgerline_tests::command::records;
use ledgerline_tests::folder::Folder;
use ledgerline_tests::real_chains::library::Library;
use ledgerline_tests::real_chains::{Judged, Kind, Stock, Verdict, kinds, recipes, run};
use ledgerline_tests::runs::on_every_core;
use serde_json::Value;

use known::{FALSE_CLAIMS, RIGHT};

/// Length of a piece, in seconds.
const LENGTH_S: f64 = 20.0;

/// What the command says.
fn compared(mix: &Path, export: &Path) -> Result<Value> {
    let [mix, export] = [mix, export].map(|path| path.display().to_string());
    let (_, mut found) = records(&["compare", &mix, &export]);
    found.pop().ok_or_else(|| Error::other("no record"))
}

/// Every kind on one piece, in turn.
fn answers() -> Vec<(&'static Kind, Judged)> {
    let folder = Folder::new("real-chains");
    let stock = Stock::make(&recipes::SMALL, LENGTH_S, &Library::installed(), folder.folder())
        .unwrap_or_else(|error| panic!("{error}"));
    let kinds: Vec<&Kind> = kinds::all().collect();
    let answers = Mutex::new(Vec::new());
    on_every_core(kinds.len() as u64, |number| {
        let number = number as usize;
        let kind = kinds[number];
        let piece = number % stock.pieces.len();
        let judged = run::judged(kind, &stock, piece, &folder.join(kind.name), compared)
            .unwrap_or_else(|error| panic!("{}: {error}", kind.name));
        answers.lock().expect("no answer has failed").push((kind, judged));
    });
    answers.into_inner().expect("no answer has failed")
}

#[test]
#[ignore = "needs ffmpeg, sox and packages of music and speech"]
fn what_is_said_of_real_sound_is_true() {
    let answers = answers();
    let claims: BTreeSet<(&str, &str)> = answers
        .iter()
        .flat_map(|(kind, judged)| {
            judged.wrong.iter().map(|wrong| (kind.name, wrong.code.as_str()))
        })
        .collect();
    let known = BTreeSet::from(FALSE_CLAIMS);
    let new: Vec<_> = claims.difference(&known).collect();
    assert!(new.is_empty(), "false claims: {new:#?}");
    let gone: Vec<_> = known.difference(&claims).collect();
    assert!(
        gone.is_empty(),
        "nothing of this is claimed any more, take it off the list: {gone:#?}"
    );

    let is_right = |(_, judged): &&(&Kind, Judged)| judged.verdict == Verdict::Right;
    let right = answers.iter().filter(is_right).count();
    let others: Vec<_> = answers
        .iter()
        .filter(|answer| !is_right(answer))
        .map(|(kind, judged)| format!("{}: {} {:?}", kind.name, judged.verdict, judged.found))
        .collect();
    assert!(right >= RIGHT, "{right} of {} are right, not {}", answers.len(), others.join("\n"));
}
