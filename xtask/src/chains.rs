//! Puts real sound through chains whose effect is known, compares mix and export with the command,
//! and says how much of what the command says is true.

mod chosen;
mod document;

use std::fs;
use std::io;
use std::path::Path;
use std::sync::Mutex;
use std::time::Instant;

use anyhow::{Result, bail};
use ledgerline_tests::real_chains::library::Library;
use ledgerline_tests::real_chains::table::{self, Row};
use ledgerline_tests::real_chains::{Judged, Kind, Stock, Verdict, run as chain, tools};
use ledgerline_tests::runs::on_every_core;
use serde_json::{Value, json};

use crate::bundle;
use crate::flags::ChainsFlags;
use crate::run::announce;
use crate::workspace::Workspace;
use chosen::Chosen;

/// What came of one kind on one piece.
type Answer = io::Result<Judged>;

/// `cargo xtask chains`
///
/// # Errors
///
/// When a kind or piece is not known, a package cannot be fetched, or a chain cannot be made.
pub fn run(flags: &ChainsFlags) -> Result<()> {
    let workspace = Workspace::find()?;
    let chosen = Chosen::of(flags)?;
    let command = match &flags.command {
        Some(command) => command.clone(),
        None => bundle::build(&workspace)?.command,
    };
    let folder = workspace.target.join("chains");
    announce(&format!("{} kinds of chain on {} pieces", chosen.kinds.len(), chosen.pieces.len()));
    let set = if flags.small { "small" } else { "pieces" };
    let pieces = folder.join(set);
    fs::create_dir_all(&pieces)?;
    let library = Library::fetching(&folder.join("packages"));
    let stock = Stock::make(chosen.recipes, chosen.length_s, &library, &pieces)?;
    if flags.show {
        return show(&chosen, &stock, &command, &folder.join("shown"));
    }
    let started = Instant::now();
    let rows = rows(&chosen, &stock, &command, &folder.join("made"))?;
    let table = format!("{}\n\n{}", heading(&chosen, &stock), table::written(&rows));
    println!("{table}");
    println!("{} answers in {:.0} s", chosen.jobs(), started.elapsed().as_secs_f64());
    fs::write(folder.join("answers.json"), record(&chosen, &stock, &rows).to_string())?;
    if chosen.is_everything() { document::write(&workspace, &table) } else { Ok(()) }
}

/// What the answers are about.
fn heading(chosen: &Chosen, stock: &Stock) -> String {
    let names: Vec<&str> = chosen.pieces.iter().map(|&piece| stock.pieces[piece].name).collect();
    format!("On pieces of {} s: {}.", chosen.length_s, names.join(", "))
}

/// Every kind on every piece.
fn rows(
    chosen: &Chosen,
    stock: &Stock,
    command: &Path,
    folder: &Path,
) -> Result<Vec<Row<'static>>> {
    let answers: Vec<Mutex<Option<Answer>>> =
        (0..chosen.jobs()).map(|_| Mutex::new(None)).collect();
    on_every_core(chosen.jobs() as u64, |number| {
        let (kind, piece) = chosen.job(number as usize);
        let folder = folder.join(format!("{}-{}", kind.name, stock.pieces[piece].name));
        let answer =
            chain::judged(kind, stock, piece, &folder, |mix, export| compare(command, mix, export));
        println!("{}", line(kind, stock.pieces[piece].name, &answer));
        *answers[number as usize].lock().expect("no thread has panicked") = Some(answer);
    });
    let answers: Vec<Option<Judged>> = answers
        .into_iter()
        .map(|answer| answer.into_inner().ok().flatten().and_then(Result::ok))
        .collect();
    let failures = answers.iter().filter(|answer| answer.is_none()).count();
    if failures > 0 {
        bail!("{failures} chains could not be made or compared: the lines above say why");
    }
    let of = |place: usize| answers.iter().skip(place).step_by(chosen.kinds.len()).flatten();
    let kinds = chosen.kinds.iter().enumerate();
    Ok(kinds.map(|(place, &kind)| Row { kind, answers: of(place).cloned().collect() }).collect())
}

/// What the command says, as a record.
fn compare(command: &Path, mix: &Path, export: &Path) -> io::Result<Value> {
    let output =
        tools::polite(command).args(["compare", "--json"]).arg(mix).arg(export).output()?;
    // Whatever lies outside the tolerances is a failure to the command, and an answer all the same.
    serde_json::from_slice(&output.stdout).map_err(|_| {
        io::Error::other(format!("no record: {}", String::from_utf8_lossy(&output.stderr)))
    })
}

/// An answer as a line.
fn line(kind: &Kind, piece: &str, answer: &Answer) -> String {
    match answer {
        Ok(answer) => {
            let claims = answer.wrong.iter().map(|wrong| match &wrong.number {
                Some(number) => format!("{} ({number})", wrong.code),
                None => wrong.code.clone(),
            });
            let claims: Vec<String> = claims.collect();
            let found = answer.found.join(" ");
            let verdict = answer.verdict.to_string();
            match answer.verdict {
                Verdict::FalseClaim => {
                    format!(
                        "{:<24}{piece:<12}{verdict:<13}{} | {found}",
                        kind.name,
                        claims.join(", ")
                    )
                }
                _ => format!("{:<24}{piece:<12}{verdict:<13}{found}", kind.name),
            }
        }
        Err(error) => format!("{:<24}{piece:<12}NOT DONE     {error}", kind.name),
    }
}

/// Prints what the command says to people, and where the files are.
fn show(chosen: &Chosen, stock: &Stock, command: &Path, folder: &Path) -> Result<()> {
    for number in 0..chosen.jobs() {
        let (kind, piece) = chosen.job(number);
        let name = stock.pieces[piece].name;
        let made = chain::make(kind, stock, piece, &folder.join(format!("{}-{name}", kind.name)))?;
        announce(&format!("{} on {name}: {}", kind.name, kind.done));
        let output =
            tools::polite(command).arg("compare").arg(&made.mix).arg(&made.export).output()?;
        print!("{}", String::from_utf8_lossy(&output.stdout));
        print!("{}", String::from_utf8_lossy(&output.stderr));
        let record = compare(command, &made.mix, &made.export)?;
        let judged = ledgerline_tests::real_chains::judge(kind, &made.facts, &record);
        println!("\n{}", line(kind, name, &Ok(judged)));
        println!("{}\n{}", made.mix.display(), made.export.display());
    }
    Ok(())
}

/// All answers, for other programs.
fn record(chosen: &Chosen, stock: &Stock, rows: &[Row]) -> Value {
    let mut answers = Vec::new();
    for row in rows {
        for (answer, &piece) in row.answers.iter().zip(&chosen.pieces) {
            let wrong: Vec<Value> = answer
                .wrong
                .iter()
                .map(|wrong| json!({ "code": wrong.code, "number": wrong.number }))
                .collect();
            answers.push(json!({
                "kind": row.kind.name,
                "piece": stock.pieces[piece].name,
                "verdict": answer.verdict.to_string(),
                "found": answer.found,
                "wrong": wrong,
            }));
        }
    }
    Value::Array(answers)
}
