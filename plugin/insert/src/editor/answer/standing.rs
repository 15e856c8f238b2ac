//! What is said, steadily: a finding appears when it has held for a second, and goes when it has been
//! gone for five.

use ledgerline_measure::sum_test::audit::live::LiveState;
use ledgerline_measure::sum_test::{STEPS, Schedule, Verdict};
use ledgerline_measure::verdict::{Code, Finding, Severity};
use ledgerline_measure::{Reading, YourMeterReading, words};

use crate::sum_test::record::SumTestRecord;

/// How long a finding has to hold before it is said, in seconds.
const HOLDS_S: f64 = 1.0;
/// How long it is said after it has gone.
const STAYS_S: f64 = 5.0;

/// Something to say, and how much it matters.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::editor) struct Said {
    /// How much it matters.
    pub(in crate::editor) severity: Severity,
    /// The word for that.
    pub(in crate::editor) word: &'static str,
    /// The sentence.
    pub(in crate::editor) sentence: String,
    /// What to do.
    pub(in crate::editor) action: Option<String>,
}

impl Said {
    fn new(severity: Severity, sentence: String, action: Option<String>) -> Self {
        Self { severity, word: severity.word(), sentence, action }
    }
}

/// A finding that is said, or will be.
#[derive(Debug, Clone, Copy)]
struct Held {
    finding: Finding,
    /// When it came, and when it was last there, by the clock of the screen.
    came_s: f64,
    there_s: f64,
}

/// The findings that stand.
#[derive(Debug, Clone, Default)]
pub(in crate::editor) struct Standing {
    held: Vec<Held>,
    /// Of how long a time the reading was.
    time_s: f64,
}

impl Standing {
    /// Takes what a reading says at a moment of the screen's clock.
    pub(in crate::editor) fn take(&mut self, reading: &Reading, clock_s: f64) {
        // After a reset nothing of before stands, and what is there first is said at once.
        if reading.time_s < self.time_s {
            self.held.clear();
        }
        let first = self.held.is_empty();
        self.time_s = reading.time_s;
        for finding in reading.findings.as_slice() {
            match self.held.iter_mut().find(|held| held.finding.code == finding.code) {
                Some(held) => (held.finding, held.there_s) = (*finding, clock_s),
                None => {
                    let came_s = if first { clock_s - HOLDS_S } else { clock_s };
                    self.held.push(Held { finding: *finding, came_s, there_s: clock_s });
                }
            }
        }
        self.held.retain(|held| {
            let has_come = held.there_s - held.came_s >= HOLDS_S;
            clock_s - held.there_s < if has_come { STAYS_S } else { HOLDS_S / 4.0 }
        });
    }

    /// What is said at a moment, most important first.
    fn findings(&self, clock_s: f64) -> Vec<Finding> {
        let stand = self.held.iter().filter(|held| clock_s - held.came_s >= HOLDS_S);
        let mut stand: Vec<Finding> = stand.map(|held| held.finding).collect();
        let rank = |finding: &Finding| {
            (finding.code != Code::Silence, std::cmp::Reverse(finding.severity), finding.code)
        };
        stand.sort_by_key(rank);
        // That all is well is said where there is nothing else.
        if stand.iter().any(|finding| finding.code != Code::Clean) {
            stand.retain(|finding| finding.code != Code::Clean);
        }
        stand
    }
}

/// Everything there is to say about a reading, most important first; what `stands` where it is the one
/// of now. The messages come before all that is less than a caution.
pub(in crate::editor) fn said(
    reading: &Reading,
    standing: Option<(&Standing, f64)>,
    messages: &[String],
) -> Vec<Said> {
    let findings = match standing {
        Some((standing, clock_s)) => standing.findings(clock_s),
        None => reading.findings.as_slice().to_vec(),
    };
    let mut said: Vec<Said> = findings
        .iter()
        .map(|finding| Said::new(finding.severity, finding.sentence(), finding.action()))
        .collect();
    if said.is_empty() {
        let sentence = if reading.sample_rate_hz > 0.0 {
            "Listening."
        } else {
            "Nothing is measured yet: waiting for audio."
        };
        said.push(Said::new(Severity::Note, sentence.into(), None));
    }
    let place = said.iter().position(|s| s.severity < Severity::Caution).unwrap_or(said.len());
    let messages = messages.iter().map(|m| Said::new(Severity::Caution, m.clone(), None));
    said.splice(place..place, messages);
    said
}

/// Speaks of the user's own meter: under the first sentence where there is nothing to do, else after the
/// rest.
pub(in crate::editor) fn speak_of_yours(said: &mut Vec<Said>, read: &YourMeterReading) {
    match said.first_mut() {
        Some(first) if first.action.is_none() => first.action = Some(read.sentence()),
        _ => said.push(Said::new(Severity::Note, read.sentence(), None)),
    }
}

impl Said {
    /// What the sum test has to say: the step that plays and the time that is left, or the answer.
    pub(in crate::editor) fn of_test(record: &SumTestRecord) -> Self {
        let severity = match record.verdict {
            Some(Verdict::SumsCorrectly) => Severity::Clear,
            Some(Verdict::Faulty) => Severity::Fault,
            Some(Verdict::CannotTell) => Severity::Caution,
            None => Severity::Note,
        };
        let word = record.verdict.map_or("Sum test", |verdict| verdict.word());
        let (sentence, rest) = match record.sentence.split_once(". ") {
            Some((first, rest)) => (format!("{first}."), Some(rest.to_owned())),
            None => (record.sentence.clone(), None),
        };
        let plays = record.state == Some(LiveState::Running);
        let step = STEPS.get(record.steps.len()).filter(|_| plays && !record.steps.is_empty());
        let sentence = match step {
            Some(step) => format!("Step {} of {}: {}.", step.number, STEPS.len(), step.name),
            None => sentence,
        };
        let left = plays.then(|| left(record)).flatten();
        let action = match (record.verdict, left) {
            (Some(Verdict::SumsCorrectly), _) => rest,
            (Some(_), _) => rest.or(Some("Mend it, and play the test again.".to_owned())),
            (None, Some(left)) => Some(format!("{left} left. Let the transport run.")),
            (None, None) => rest,
        };
        Self { severity, word, sentence, action }
    }
}

/// How much of the test is left.
fn left(record: &SumTestRecord) -> Option<String> {
    let schedule = Schedule::new(record.rate_hz)?;
    let left_s = schedule.length_frames() as f64 / schedule.rate_hz() - record.position_s;
    Some(words::moment(left_s.max(0.0).ceil(), 0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::handover::Snapshot;
    use ledgerline_measure::verdict::{Fact, Findings};

    fn reading(time_s: f64, facts: &[Fact]) -> Reading {
        let mut findings = Findings::default();
        facts.iter().for_each(|fact| findings.push(Finding::new(Severity::Note, *fact)));
        Reading { time_s, findings, ..Snapshot::default().reading }
    }

    #[test]
    fn a_finding_appears_when_it_has_held_and_goes_when_it_has_been_gone() {
        let (dc, tops) = (Fact::Dc { dc_dbfs: -40.0 }, Fact::FlatTops { flat_tops: 9.0 });
        let mut standing = Standing::default();
        let mut codes = |clock_s: f64, facts: &[Fact]| {
            standing.take(&reading(clock_s, facts), clock_s);
            standing.findings(clock_s).iter().map(|finding| finding.code).collect::<Vec<_>>()
        };
        assert_eq!(codes(10.0, &[dc]), [Code::Dc], "what is there first");
        assert_eq!(codes(10.5, &[dc, tops]), [Code::Dc]);
        assert_eq!(codes(11.4, &[dc, tops]), [Code::Dc]);
        assert_eq!(codes(11.5, &[dc, tops]), [Code::FlatTops, Code::Dc]);
        assert_eq!(codes(16.0, &[tops]), [Code::FlatTops, Code::Dc]);
        assert_eq!(codes(16.6, &[tops]), [Code::FlatTops], "five seconds after it was last there");
        // What comes and goes within a second is never said.
        for tenth in 0..100 {
            let clock_s = 20.0 + f64::from(tenth) / 10.0;
            let facts: &[Fact] = if tenth % 6 < 3 { &[tops, dc] } else { &[tops] };
            assert_eq!(codes(clock_s, facts), [Code::FlatTops], "{clock_s}");
        }
        assert_eq!(codes(0.5, &[dc]), [Code::Dc], "after a reset");
    }
}
