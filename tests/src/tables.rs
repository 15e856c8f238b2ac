//! Tables of the documents that are made from the code: `cargo xtask tables` writes them, and a test
//! compares what is written.

use std::sync::Arc;

use clap::CommandFactory;
use ledgerline::params::LedgerlineParams;
use ledgerline_measure::compare::{Purpose, limits};
use ledgerline_measure::{PRESETS, words};

/// A table in a document.
pub struct Table {
    /// The document, from the root of the workspace.
    pub document: &'static str,
    /// What stands before the table, as a comment; behind it stands [`END`].
    pub name: &'static str,
    /// The table as it has to be.
    pub text: fn() -> String,
}

/// Stands behind a table.
pub const END: &str = "<!-- end -->";

/// Every table.
pub const TABLES: [Table; 4] = [
    Table { document: "docs/manual.md", name: "<!-- parameters -->", text: parameters },
    Table { document: "docs/files.md", name: "<!-- options -->", text: options },
    Table { document: "docs/files.md", name: "<!-- presets -->", text: presets },
    Table { document: "docs/files.md", name: "<!-- purposes -->", text: purposes },
];

impl Table {
    /// The document with the table as it has to be.
    ///
    /// # Errors
    ///
    /// When the document has no place for it.
    pub fn within(&self, document: &str) -> Result<String, String> {
        let missing = |what: &str| format!("{} has no {what}", self.document);
        let (before, rest) = document.split_once(self.name).ok_or_else(|| missing(self.name))?;
        let (_, after) = rest.split_once(END).ok_or_else(|| missing(END))?;
        Ok(format!("{before}{}\n{}\n{END}{after}", self.name, (self.text)()))
    }
}

/// The plugin's parameters.
fn parameters() -> String {
    let params = LedgerlineParams::new(Arc::default(), Arc::default());
    let rows = params.listed().into_iter().map(|listed| {
        format!("| {} | `{}` | {} | {} |", listed.name, listed.id, listed.values, listed.default)
    });
    table(["parameter", "id", "values", "default"], rows)
}

/// Targets with their ceilings, and who asks for them.
fn presets() -> String {
    let rows = PRESETS.iter().map(|preset| {
        let (target, ceiling) = (preset.target.words(), words::fixed(preset.ceiling_db, 1));
        format!("| `{}` | {target} | {ceiling} dBTP | {} |", preset.word, preset.source)
    });
    table(["target", "level", "ceiling", "who asks for it"], rows)
}

/// What an export may do, by what it is for.
fn purposes() -> String {
    let columns = Purpose::ALL.map(|purpose| limits::allowed(&purpose.tolerances()));
    let rows = columns[0].iter().enumerate().map(|(row, (name, _))| {
        let cells = columns.iter().map(|column| column[row].1.as_str());
        format!("| {name} | {} |", cells.collect::<Vec<_>>().join(" | "))
    });
    let [same, lossy, normalised, master] =
        Purpose::ALL.map(|purpose| format!("`{}`: {}", purpose.word(), purpose.phrase()));
    table(["what", &same, &lossy, &normalised, &master], rows)
}

/// The command's options, task by task.
fn options() -> String {
    let command = ledgerline_cli::Command::command();
    let tasks = command.get_subcommands().filter(|task| !task.is_hide_set());
    let rows = tasks.flat_map(|task| {
        let options = task.get_arguments().filter(|option| {
            option.get_long().is_some() && !option.is_hide_set() && option.get_id() != "help"
        });
        options.map(|option| {
            let help = option.get_help().map(ToString::to_string).unwrap_or_default();
            let default: Vec<_> = option
                .get_default_values()
                .iter()
                .map(|value| format!("`{}`", value.to_string_lossy()))
                .collect();
            let what = as_typed(&help.replace('|', "\\|").replace('\n', " "));
            format!(
                "| `{}` | `{}` | {what} | {} |",
                task.get_name(),
                typed(option),
                default.join(", ")
            )
        })
    });
    table(["task", "option", "what", "default"], rows)
}

/// A text in which numbers that are typed with a hyphen are marked as typed.
fn as_typed(help: &str) -> String {
    let mark = |word: &str| {
        let typed = word.trim_end_matches([',', '.', ':', ';']);
        let is_number = typed
            .strip_prefix('-')
            .is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_digit()));
        if is_number { format!("`{typed}`{}", &word[typed.len()..]) } else { word.to_owned() }
    };
    help.split(' ').map(mark).collect::<Vec<_>>().join(" ")
}

/// An option as it is typed.
fn typed(option: &clap::Arg) -> String {
    let long = format!("--{}", option.get_long().unwrap_or_default());
    if !option.get_action().takes_values() {
        return long;
    }
    let values = option.get_value_names().unwrap_or_default();
    values.iter().fold(long, |typed, value| format!("{typed} {value}"))
}

fn table<const COLUMNS: usize>(
    names: [&str; COLUMNS],
    rows: impl Iterator<Item = String>,
) -> String {
    let head = format!("| {} |\n|{}", names.join(" | "), "---|".repeat(COLUMNS));
    rows.fold(head, |table, row| format!("{table}\n{row}"))
}
