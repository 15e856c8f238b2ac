//! A run of `cargo test`, shown as it goes and counted.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

use anyhow::{Context, Result};
use ledgerline_tests::built::BUNDLES_VARIABLE;

use crate::workspace::Workspace;

/// Some of the workspace's tests.
pub struct Group {
    name: &'static str,
    variables: Vec<(&'static str, std::path::PathBuf)>,
    tests: Vec<&'static str>,
    filter: Option<&'static str>,
    ignored: bool,
}

/// What came of a group.
pub struct Outcome {
    /// The group's name.
    pub name: &'static str,
    /// Tests that passed.
    pub passed: u32,
    /// Tests that failed.
    pub failed: u32,
    /// Names of those.
    pub failures: Vec<String>,
    /// How long it took, building included.
    pub seconds: f64,
    /// Whether cargo was content: a test that does not build fails without being counted.
    pub succeeded: bool,
}

impl Group {
    /// Every test that needs nothing but the Rust toolchain.
    pub fn new(name: &'static str) -> Self {
        Self { name, variables: Vec::new(), tests: Vec::new(), filter: None, ignored: false }
    }

    /// With a variable in the environment.
    pub fn with(mut self, variable: &'static str, value: &Path) -> Self {
        self.variables.push((variable, value.into()));
        self
    }

    /// With the bundles under test instead of the debug library.
    pub fn with_bundles(self, workspace: &Workspace) -> Self {
        self.with(BUNDLES_VARIABLE, &workspace.bundled())
    }

    /// This test program, and others named like this, alone.
    pub fn only(mut self, test: &'static str) -> Self {
        self.tests.push(test);
        self
    }

    /// Only the tests whose names contain a text.
    pub fn named(self, filter: &'static str) -> Self {
        Self { filter: Some(filter), ..self }
    }

    /// The tests that are ignored because not every machine can run them.
    pub fn ignored(self) -> Self {
        Self { ignored: true, ..self }
    }

    /// Runs the group.
    ///
    /// # Errors
    ///
    /// When cargo cannot be started; failing tests are no error here.
    pub fn run(self, workspace: &Workspace) -> Result<Outcome> {
        let started = Instant::now();
        let mut outcome = Outcome {
            name: self.name,
            passed: 0,
            failed: 0,
            failures: Vec::new(),
            seconds: 0.0,
            succeeded: false,
        };
        let mut cargo =
            self.command(workspace).stdout(Stdio::piped()).spawn().context("cargo cannot start")?;
        let lines = BufReader::new(cargo.stdout.take().context("cargo's output")?).lines();
        for line in lines {
            let line = line?;
            println!("{line}");
            outcome.count(&line);
        }
        outcome.succeeded = cargo.wait()?.success();
        outcome.seconds = started.elapsed().as_secs_f64();
        Ok(outcome)
    }

    /// The whole workspace each time, whatever the group is: a part of it would have other
    /// features, and be built anew.
    fn command(&self, workspace: &Workspace) -> Command {
        let mut command = workspace.cargo();
        command.args(["test", "--workspace", "--no-fail-fast"]);
        command.envs(self.variables.iter().map(|(name, value)| (name, value)));
        for test in &self.tests {
            command.args(["--test", test]);
        }
        command.arg("--").args(self.filter);
        if self.ignored {
            command.arg("--ignored");
        }
        command
    }
}

impl Outcome {
    /// Reads a line of the test programs' output.
    fn count(&mut self, line: &str) {
        if let Some(result) = line.strip_prefix("test result: ") {
            self.passed += number_before(result, " passed");
            self.failed += number_before(result, " failed");
        } else if let Some(name) =
            line.strip_prefix("test ").and_then(|line| line.strip_suffix(" ... FAILED"))
        {
            self.failures.push(name.to_owned());
        }
    }
}

/// The number that stands before a word, 0 where there is none.
fn number_before(text: &str, word: &str) -> u32 {
    text.split(word)
        .next()
        .and_then(|before| before.rsplit(' ').next())
        .and_then(|number| number.parse().ok())
        .unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_test_programs_lines_are_counted() {
        let mut outcome = Outcome {
            name: "",
            passed: 0,
            failed: 0,
            failures: Vec::new(),
            seconds: 0.0,
            succeeded: true,
        };
        outcome.count("test state::clap::comes_back ... FAILED");
        outcome.count("test state::clap::is_refused ... ok");
        outcome.count("test result: FAILED. 12 passed; 1 failed; 2 ignored; 0 measured");
        outcome.count("test result: ok. 30 passed; 0 failed; 0 ignored; 0 measured");
        assert_eq!((outcome.passed, outcome.failed), (42, 1));
        assert_eq!(outcome.failures, ["state::clap::comes_back"]);
    }
}
