//! What a finding concerns: the audible band, what is hidden, or the books of the file.

use crate::compare::finding::{Code, Concern, Finding};
use crate::compare::record::Comparison;
use crate::verdict::Severity;

pub(super) fn of(finding: &Finding, record: &Comparison) -> Concern {
    // A fault is never mere bookkeeping.
    if finding.severity == Severity::Fault {
        return Concern::Audible;
    }
    match finding.code {
        Code::Hidden => Concern::Hidden,
        Code::BandLimited if record.band_limit_hz.is_some_and(|hz| hz >= record.audible_hz[1]) => {
            Concern::Hidden
        }
        Code::TruePeak if finding.severity == Severity::Note => Concern::File,
        Code::TooShort
        | Code::PolarityInverted
        | Code::Drift
        | Code::RateConverted
        | Code::WordLength
        | Code::Delay
        | Code::DelayAmbiguous => Concern::File,
        _ => Concern::Audible,
    }
}
