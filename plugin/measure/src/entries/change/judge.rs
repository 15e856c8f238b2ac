//! What happened from one entry to another: the plainest explanation that all of the evidence allows.

use super::super::evidence::Evidence;
use super::super::stretch::Stretch;
use super::happened::Verdict;
use super::two::Two;
use super::what::What;
use super::{NAMED_FROM_S, halves, one_signal};
use crate::level::Level;
use crate::words;

/// Mean power of all channels below which there is silence: −90 dBFS.
const SILENCE: f64 = 1e-9;
/// Least change of level that hidden content makes, in dB, and most that the audible band may move by
/// meanwhile.
const LEAST_HIDDEN_DB: f64 = 0.3;
const MOST_AUDIBLE_DB: f64 = 0.1;
/// Least change of the hidden content itself, in dB: of what lies above; of what lies below and of DC,
/// which say little of themselves in a few seconds.
const LEAST_CHANGE_DB: [f64; 3] = [1.0, 4.0, 4.0];
/// The same of what lies below and holds no tone: slow noise moves by much in a few seconds.
const LEAST_OF_NOISE_DB: f64 = 12.0;
/// DC that is weaker than this against what lies below is an accident of the stretch, in dB.
const LEAST_DC_DB: f64 = 6.0;
/// Share of the change of the whole band that the hidden content's own has to make.
const EXPLAINS: f64 = 0.7;
/// Where the level moves by itself, hidden content has to come or go by at least this, in dB, and be this
/// strong against the audible band.
const PLAIN_HIDDEN_DB: f64 = 10.0;
const LEAST_AGAINST_AUDIBLE_DB: f64 = -30.0;

/// What happened.
pub(super) fn judge(before: &Stretch, after: &Stretch) -> Verdict {
    let two = Two {
        before: &before.evidence,
        after: &after.evidence,
        steady: before.steady && after.steady,
    };
    if two.before.measured_s < NAMED_FROM_S || two.after.measured_s < NAMED_FROM_S {
        let text = "Too short to say what happened: it takes 3 s of sound on either side.";
        return Verdict::sure(What::CannotTell, text.into());
    }
    if two.before.rate_hz != two.after.rate_hz {
        let text = "What happened cannot be told: the sample rate changed.";
        return Verdict::sure(What::CannotTell, text.into());
    }
    silence(&two)
        .or_else(|| hidden(&two, before, after))
        .or_else(|| halves::judge(&two, before))
        .or_else(|| moves_by_itself(&two))
        .unwrap_or_else(|| one_signal::judge(&two))
}

fn silence(two: &Two) -> Option<Verdict> {
    let is_silent = |evidence: &Evidence| evidence.energies[0].bus < SILENCE;
    match (is_silent(two.before), is_silent(two.after)) {
        (false, false) => None,
        (true, true) => Some(Verdict::sure(What::None, "Silence, as before.".into())),
        (true, false) => {
            Some(Verdict::sure(What::SourceAdded, "Sound came where there was silence.".into()))
        }
        (false, true) => {
            let text = "The sound ended: it was switched off, or two equal sounds of opposite \
                        polarity cancel each other to nothing.";
            Some(Verdict::sure(What::Silence, text.into()).or([What::Null]))
        }
    }
}

/// Hidden content that came or went while the audible band stayed.
fn hidden(two: &Two, before: &Stretch, after: &Stretch) -> Option<Verdict> {
    let whole_db = two.db(false, |energies| energies.bus);
    let audible_db = two.db(true, |energies| energies.bus);
    let places = ["above the audible band", "below the audible band", "as DC"];
    let levels = two.before.hidden.iter().zip(two.after.hidden);
    // The strongest of those that moved.
    let (index, strongest, change_db) = levels
        .enumerate()
        .map(|(index, (from, to))| (index, from.max(to), rise(*from, to)))
        .filter(|(index, _, change_db)| change_db.abs() >= LEAST_CHANGE_DB[*index])
        .filter(|(index, strongest, _)| *index != 2 || is_dc(two, *strongest))
        .filter(|(index, _, change_db)| {
            let entry = if *change_db > 0.0 { after } else { before };
            let tone = entry.reading.hidden.tones.strongest(entry.edges, false);
            *index != 1 || tone.is_some() || change_db.abs() >= LEAST_OF_NOISE_DB
        })
        .max_by(|one, other| rise(other.1, one.1).total_cmp(&0.0))?;
    let came = change_db > 0.0;
    let steady = two.steady
        && explains(two, index)
        && whole_db.abs() >= LEAST_HIDDEN_DB.max(two.chance_db(true, false))
        && audible_db.abs() <= MOST_AUDIBLE_DB.max(two.chance_db(true, true));
    let audible = after.reading.audible.bus.rms_dbfs.max(before.reading.audible.bus.rms_dbfs);
    let plain = change_db.abs() >= PLAIN_HIDDEN_DB
        && strongest.minus(audible).db().is_some_and(|db| db >= LEAST_AGAINST_AUDIBLE_DB);
    if !steady && (!plain || two.steady) {
        return None;
    }
    let entry = if came { after } else { before };
    let tone = entry.reading.hidden.tones.strongest(entry.edges, index == 0);
    let named = match (index, tone) {
        (0 | 1, Some(tone)) => format!(", with a tone at {}", words::frequency(tone.hz)),
        _ => String::new(),
    };
    let verb = if came { "came" } else { "went" };
    let mut text = format!(
        "Hidden content {verb}: {} dBFS {}{named}.",
        words::level(strongest, 1),
        places[index]
    );
    text += if two.steady {
        " The audible band does not change."
    } else {
        " Whether the audible band changed cannot be told: the level moves by itself."
    };
    Some(Verdict::sure(What::Hidden, text))
}

/// Whether a DC level is more than what slow noise leaves of itself.
fn is_dc(two: &Two, dc: Level) -> bool {
    let below = two.before.hidden[1].max(two.after.hidden[1]);
    rise(below, dc) >= LEAST_DC_DB
}

/// Whether the change of a part of the hidden content makes that of the whole band.
fn explains(two: &Two, index: usize) -> bool {
    let power = |evidence: &Evidence| evidence.hidden[index].power().unwrap_or(0.0);
    let own = power(two.after) - power(two.before);
    // Mean squares of a channel, as the levels are.
    let channels = two.after.channels as f64;
    let whole = (two.after.energies[0].bus - two.before.energies[0].bus) / channels;
    own.signum() == whole.signum() && own.abs() >= EXPLAINS * whole.abs()
}

/// By how much a level that may be silence rises, in dB.
fn rise(from: Level, to: Level) -> f64 {
    let db = |level: Level| level.finite().unwrap_or(-200.0).max(-200.0);
    db(to) - db(from)
}

/// Sound that moves by itself tells nothing by its level.
fn moves_by_itself(two: &Two) -> Option<Verdict> {
    if two.steady {
        return None;
    }
    let text = "What happened cannot be told: the sound moves by itself, so its level before and \
                after says nothing about what was switched. Use a steady sound, or the same passage \
                twice.";
    Some(Verdict::sure(What::CannotTell, text.into()))
}
