//! A run of `cargo test`, shown as it goes and counted.

use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::time::Instant;

use anyhow::{Context, Result, ensure};

use super::outcome::Outcome;
use super::sources::Program;
use crate::workspace::Workspace;

/// A variable of the environment, and what it holds.
pub type Variable = (&'static str, PathBuf);

/// Some of the workspace's tests.
#[derive(Default)]
pub struct Group {
    name: &'static str,
    /// The test programs; none stands for all.
    programs: Vec<Program>,
    /// Parts of names: only tests that have one of them.
    modules: Vec<&'static str>,
    /// Parts of names: no test that has one of them.
    others: Vec<&'static str>,
    /// Whole names: only these tests.
    chosen: Vec<String>,
    ignored: bool,
}

impl Group {
    /// Every test that needs nothing but the Rust toolchain.
    pub fn new(name: &'static str) -> Self {
        Self { name, ..Self::default() }
    }

    /// This test program, and others named like this, alone.
    pub fn only(mut self, program: &str) -> Self {
        self.programs.push(Program::Tests(program.to_owned()));
        self
    }

    /// Only the tests whose names contain this, or others named like this.
    pub fn within(mut self, module: &'static str) -> Self {
        self.modules.push(module);
        self
    }

    /// Not the tests whose names contain this, or others named like this.
    pub fn without(mut self, module: &'static str) -> Self {
        self.others.push(module);
        self
    }

    /// The tests that are ignored because not every machine can run them.
    pub fn ignored(self) -> Self {
        Self { ignored: true, ..self }
    }

    /// Whether these are the tests that are otherwise ignored.
    pub fn is_ignored(&self) -> bool {
        self.ignored
    }

    /// Only what `names` ask for, with `programs` the test programs that may hold it; none when the
    /// group holds nothing of it. A test's name begins with that of its program here.
    ///
    /// # Errors
    ///
    /// When a test program does not build.
    pub fn choose(
        mut self,
        names: &[String],
        programs: &[Program],
        workspace: &Workspace,
    ) -> Result<Option<Self>> {
        let mine = std::mem::take(&mut self.programs);
        for program in programs.iter().filter(|it| mine.is_empty() || mine.contains(it)) {
            let tests = self.list(program, workspace)?;
            let chosen = tests.into_iter().filter(|test| {
                let full = program.name_of(test);
                names.iter().any(|name| full.contains(name))
            });
            let before = self.chosen.len();
            self.chosen.extend(chosen);
            if self.chosen.len() > before {
                self.programs.push(program.clone());
            }
        }
        Ok((!self.chosen.is_empty()).then_some(self))
    }

    /// Names of the group's tests in a test program.
    fn list(&self, program: &Program, workspace: &Workspace) -> Result<Vec<String>> {
        let mut command = self.command(std::slice::from_ref(program), workspace);
        command.args(["--list", "--format=terse"]).stderr(Stdio::inherit());
        let output = command.output().context("cargo cannot start")?;
        ensure!(output.status.success(), "the tests do not build");
        let text = String::from_utf8(output.stdout)?;
        Ok(text.lines().filter_map(|line| line.strip_suffix(": test")).map(str::to_owned).collect())
    }

    /// Runs the group.
    ///
    /// # Errors
    ///
    /// When cargo cannot be started; failing tests are no error here.
    pub fn run(&self, variables: &[Variable], workspace: &Workspace) -> Result<Outcome> {
        let started = Instant::now();
        let mut outcome = Outcome::of(self.name);
        let mut command = self.command(&self.programs, workspace);
        if !self.chosen.is_empty() {
            command.arg("--exact").args(&self.chosen);
        }
        command.envs(variables.iter().map(|(name, value)| (name, value)));
        let mut cargo = command.stdout(Stdio::piped()).spawn().context("cargo cannot start")?;
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
    fn command(&self, programs: &[Program], workspace: &Workspace) -> Command {
        let mut command = workspace.cargo();
        command.args(["test", "--workspace", "--no-fail-fast"]);
        for program in programs {
            command.args(program.arguments());
        }
        command.arg("--");
        if self.ignored {
            command.arg("--ignored");
        }
        for other in &self.others {
            command.args(["--skip", other]);
        }
        if self.chosen.is_empty() {
            command.args(&self.modules);
        }
        command
    }
}
