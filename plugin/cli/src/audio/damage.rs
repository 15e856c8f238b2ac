//! What was wrong on the way through a file that could be read all the same.

use ledgerline_measure::words;

/// Packets that could not be decoded, or gaps between them: how many, and when the first was.
#[derive(Debug, Clone, Default)]
pub(super) struct Damage {
    count: u64,
    first_s: f64,
}

impl Damage {
    pub(super) fn note(&mut self, at_s: f64) {
        if self.count == 0 {
            self.first_s = at_s;
        }
        self.count += 1;
    }

    pub(super) fn count(&self) -> u64 {
        self.count
    }

    /// A sentence for the user, if there is anything to say.
    pub(super) fn warning(&self) -> Option<String> {
        match self.count {
            0 => None,
            1 => Some(format!(
                "A damaged packet at {} could not be decoded; silence stands in its place.",
                words::moment(self.first_s, 3)
            )),
            count => Some(format!(
                "{} damaged packets, the first at {}, could not be decoded; silence stands in their \
                 place.",
                words::count(Some(count)),
                words::moment(self.first_s, 3)
            )),
        }
    }

    /// The same where these are gaps that the file itself states.
    pub(super) fn gap_warning(&self) -> Option<String> {
        let at = words::moment(self.first_s, 3);
        match self.count {
            0 => None,
            1 => {
                Some(format!("The file leaves a gap in the sound at {at}; it was read as silence."))
            }
            count => Some(format!(
                "The file leaves {} gaps in the sound, the first at {at}; they were read as silence.",
                words::count(Some(count))
            )),
        }
    }
}

/// A file that ends before its header says, or goes on; `slack_frames` are no difference.
pub(super) fn length_warning(
    read_frames: u64,
    promised_frames: Option<u64>,
    slack_frames: u64,
    breaks_off: bool,
    rate_hz: u32,
) -> Option<String> {
    let length = |frames: u64| words::precise_duration(frames as f64 / f64::from(rate_hz));
    let is = length(read_frames);
    match promised_frames {
        Some(promised) if read_frames.saturating_add(slack_frames) < promised => Some(format!(
            "The file breaks off after {is}; its header promises {}.",
            length(promised)
        )),
        Some(promised) if promised.saturating_add(slack_frames) < read_frames => {
            Some(format!("The file holds {is}; its header says {}.", length(promised)))
        }
        _ if breaks_off => Some(format!("The file breaks off after {is}.")),
        _ => None,
    }
}
