//! What to do about pieces and spots.

use crate::compare::finding::{Code, Finding};
use crate::compare::record::{Comparison, Edit, EditKind};
use crate::words::{counted, list, moment, precise_duration};

pub(super) fn of(finding: &Finding, record: &Comparison) -> Option<String> {
    let number = |name: &str| finding.numbers.get(name).copied();
    let stretch = || {
        let (from_s, to_s) = (number("from_s")?, number("to_s")?);
        Some(format!("{} to {} of the export", moment(from_s, 3), moment(to_s, 3)))
    };
    match finding.code {
        Code::Edited => edited(record),
        Code::Reordered => Some(match number("pieces") {
            Some(pieces) => {
                let pieces = counted(pieces as u64, "piece", "pieces");
                format!("Put the {pieces} back into the mix's order.")
            }
            None => "Put the pieces back into the mix's order.".into(),
        }),
        Code::Repeated => {
            let from_s = number("from_s")?;
            let long = precise_duration(number("to_s")? - from_s);
            Some(format!("Cut the second one: {long} from {} of the export on.", moment(from_s, 3)))
        }
        Code::SecondProgramme => {
            Some(format!("Mute what plays from {}, and export again.", stretch()?))
        }
        Code::Trimmed => {
            let parts: Vec<String> = [("start_s", "begin", "earlier"), ("end_s", "end", "later")]
                .into_iter()
                .filter_map(|(name, verb, way)| {
                    let long_s = number(name).filter(|long_s| *long_s > 0.0)?;
                    Some(format!("{verb} it {} {way}", precise_duration(long_s)))
                })
                .collect();
            (!parts.is_empty()).then(|| format!("Export again, and {}.", list(&parts)))
        }
        Code::Dropout => {
            Some("Export again, with a larger buffer if it was recorded in real time.".into())
        }
        Code::WrongSamples => Some("Export again.".into()),
        _ => None,
    }
}

/// One edit can be mended by hand.
fn edited(record: &Comparison) -> Option<String> {
    // The others have findings of their own.
    let is_other = |edit: &&Edit| {
        use EditKind::{EndTrimmed, Moved, Overlaid, Repeated, StartTrimmed};
        matches!(edit.kind, StartTrimmed | EndTrimmed | Moved | Repeated | Overlaid)
    };
    let edits: Vec<&Edit> = record.edits.iter().filter(|edit| !is_other(edit)).collect();
    let [edit] = edits[..] else {
        let places = counted(edits.len() as u64, "place", "places");
        return Some(format!("Export again, or mend the {places}."));
    };
    let long = precise_duration(edit.length_s);
    let at = moment(edit.export_s, 3);
    Some(match edit.kind {
        EditKind::Removed => format!("Put the {long} back at {at} of the export."),
        EditKind::Inserted => format!("Cut {long} at {at} of the export."),
        EditKind::Replaced | EditKind::Silenced => {
            format!("Put the mix back for {long} from {at} of the export on.")
        }
        EditKind::StartTrimmed
        | EditKind::EndTrimmed
        | EditKind::Moved
        | EditKind::Repeated
        | EditKind::Overlaid => return None,
    })
}
