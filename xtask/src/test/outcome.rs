//! What came of a run of `cargo test`, counted from what the test programs print.

/// What came of a group.
#[derive(Debug, Default)]
pub struct Outcome {
    /// The group's name.
    pub name: &'static str,
    /// Tests that passed.
    pub passed: u32,
    /// Tests that failed.
    pub failed: u32,
    /// Tests that were left to another group.
    pub ignored: u32,
    /// Names of those that failed.
    pub failures: Vec<String>,
    /// How long it took, building included.
    pub seconds: f64,
    /// Whether cargo was content: a test that does not build fails without being counted.
    pub succeeded: bool,
}

impl Outcome {
    /// Nothing yet.
    pub fn of(name: &'static str) -> Self {
        Self { name, ..Self::default() }
    }

    /// How many tests ran.
    pub fn ran(&self) -> u32 {
        self.passed + self.failed
    }

    /// Reads a line of the test programs' output.
    pub fn count(&mut self, line: &str) {
        if let Some(result) = line.strip_prefix("test result: ") {
            self.passed += number_before(result, " passed");
            self.failed += number_before(result, " failed");
            self.ignored += number_before(result, " ignored");
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
        let mut outcome = Outcome::of("");
        outcome.count("test state::clap::comes_back ... FAILED");
        outcome.count("test state::clap::is_refused ... ok");
        outcome.count("test result: FAILED. 12 passed; 1 failed; 2 ignored; 0 measured");
        outcome.count("test result: ok. 30 passed; 0 failed; 0 ignored; 0 measured");
        assert_eq!((outcome.passed, outcome.failed, outcome.ignored), (42, 1, 2));
        assert_eq!(outcome.failures, ["state::clap::comes_back"]);
    }
}
