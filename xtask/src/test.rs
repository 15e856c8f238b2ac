//! Runs every test, and says at the end what passed, what failed and what was skipped, and why.

mod group;
mod machine;
mod outcome;
mod parts;
mod sources;

use anyhow::{Result, bail, ensure};
use ledgerline_tests::runs;

use crate::flags::TestFlags;
use crate::run::announce;
use crate::workspace::Workspace;
use group::Variable;
use outcome::Outcome;
use parts::{Part, Prepared};

/// A group that this machine cannot run.
struct Skip {
    what: &'static str,
    reason: String,
}

/// What came of all groups.
#[derive(Default)]
struct Results {
    outcomes: Vec<Outcome>,
    skips: Vec<Skip>,
    /// How many tests ran that are ignored where nobody asks for them.
    ignored_ran: u32,
}

/// `cargo xtask test`
///
/// # Errors
///
/// When a test fails, or, where the flags say so, is skipped; when no test has one of the names.
pub fn run(flags: &TestFlags) -> Result<()> {
    let workspace = Workspace::find()?;
    let mut results = Results::default();
    for part in chosen(flags, &workspace)? {
        results.run(part, flags, &workspace)?;
    }
    results.report();
    results.judge(flags)
}

/// The groups, or of each the tests that the flags name.
fn chosen(flags: &TestFlags, workspace: &Workspace) -> Result<Vec<Part>> {
    let parts = parts::all();
    if flags.names.is_empty() {
        return Ok(parts);
    }
    announce(&format!("Looking for tests whose names contain {}", flags.names.join(" or ")));
    let programs = sources::that_may_hold(&flags.names, workspace)?;
    let mut chosen = Vec::new();
    for part in parts {
        if let Some(group) = part.group.choose(&flags.names, &programs, workspace)? {
            chosen.push(Part { group, ..part });
        }
    }
    ensure!(!chosen.is_empty(), "no test has a name that contains {}", flags.names.join(" or "));
    Ok(chosen)
}

impl Results {
    fn run(&mut self, part: Part, flags: &TestFlags, workspace: &Workspace) -> Result<()> {
        announce(part.what);
        match (part.prepare)(workspace)? {
            Prepared::Missing(reason) => self.skips.push(Skip { what: part.what, reason }),
            Prepared::Ready(mut variables) => {
                variables.extend(long(flags));
                let outcome = part.group.run(&variables, workspace)?;
                if part.group.is_ignored() {
                    self.ignored_ran += outcome.ran();
                }
                self.outcomes.push(outcome);
            }
        }
        Ok(())
    }

    fn report(&self) {
        announce("Results");
        for outcome in &self.outcomes {
            println!(
                "{:<28}{:>5} passed {:>3} failed   {:.0} s",
                outcome.name, outcome.passed, outcome.failed, outcome.seconds
            );
        }
        for skip in &self.skips {
            println!("{:<28}skipped: {}", skip.what, skip.reason);
        }
        for outcome in &self.outcomes {
            for name in &outcome.failures {
                println!("FAILED  {}: {name}", outcome.name);
            }
        }
        println!(
            "{} passed, {} failed, {} of {} groups skipped",
            self.sum(|outcome| outcome.passed),
            self.sum(|outcome| outcome.failed),
            self.skips.len(),
            self.skips.len() + self.outcomes.len()
        );
    }

    fn sum(&self, count: fn(&Outcome) -> u32) -> u32 {
        self.outcomes.iter().map(count).sum()
    }

    fn judge(&self, flags: &TestFlags) -> Result<()> {
        if let Some(outcome) = self.outcomes.iter().find(|outcome| !outcome.succeeded) {
            bail!("tests failed: {}", outcome.name);
        }
        ensure!(
            !flags.no_skips || self.skips.is_empty(),
            "tests were skipped, and --no-skips allows none"
        );
        if flags.names.is_empty() { self.judge_whole() } else { self.judge_named() }
    }

    /// Where all groups ran: each has tests, and what one leaves to the others is run by them.
    fn judge_whole(&self) -> Result<()> {
        if let Some(outcome) = self.outcomes.iter().find(|outcome| outcome.passed == 0) {
            bail!("no test ran: {}", outcome.name);
        }
        let left = self.outcomes.first().map_or(0, |outcome| outcome.ignored);
        ensure!(
            !self.skips.is_empty() || left == self.ignored_ran,
            "{left} tests are ignored by default, and {} of them ran: a group has to name the others",
            self.ignored_ran
        );
        Ok(())
    }

    fn judge_named(&self) -> Result<()> {
        let ran = self.sum(Outcome::ran);
        ensure!(ran > 0, "none of the tests of that name can run on this machine");
        Ok(())
    }
}

/// What tells the tests to take their long form.
fn long(flags: &TestFlags) -> Option<Variable> {
    flags.long.then(|| (runs::LONG_VARIABLE, "1".into()))
}
