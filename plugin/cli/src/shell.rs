//! `ledgerline completions` and `ledgerline manual`: what the shell and `man` show, made from the
//! same definitions as the parsing.

use std::io::Write;

use anyhow::{Context, Result};
use clap::CommandFactory;

use crate::options::{Command, CompletionsOptions, ManualOptions};
use crate::outcome::Outcome;

pub(crate) fn completions(options: &CompletionsOptions, out: &mut dyn Write) -> Result<Outcome> {
    let mut command = Command::command();
    let name = command.get_name().to_owned();
    // The generator panics where it cannot write.
    let mut text = Vec::new();
    clap_complete::generate(options.shell, &mut command, name, &mut text);
    out.write_all(&text)?;
    Ok(Outcome::Fine)
}

pub(crate) fn manual(options: &ManualOptions, out: &mut dyn Write) -> Result<Outcome> {
    let command = Command::command();
    match &options.folder {
        None => clap_mangen::Man::new(command).render(&mut *out)?,
        Some(folder) => {
            std::fs::create_dir_all(folder)
                .and_then(|()| clap_mangen::generate_to(command, folder))
                .with_context(|| {
                    format!("the manual cannot be written into {}", folder.display())
                })?;
        }
    }
    Ok(Outcome::Fine)
}
