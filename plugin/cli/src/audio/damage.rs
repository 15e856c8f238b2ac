//! What was wrong on the way through a file that could be read all the same.

/// Packets that could not be decoded.
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
                "A damaged packet at {:.3} s could not be decoded; silence stands in its place.",
                self.first_s
            )),
            count => Some(format!(
                "{count} damaged packets, the first at {:.3} s, could not be decoded; silence stands \
                 in their place.",
                self.first_s
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
    let seconds = |frames: u64| frames as f64 / f64::from(rate_hz);
    let is = seconds(read_frames);
    match promised_frames {
        Some(promised) if read_frames.saturating_add(slack_frames) < promised => Some(format!(
            "The file breaks off after {is:.3} s; its header promises {:.3} s.",
            seconds(promised)
        )),
        Some(promised) if promised.saturating_add(slack_frames) < read_frames => {
            Some(format!("The file holds {is:.3} s; its header says {:.3} s.", seconds(promised)))
        }
        _ if breaks_off => Some(format!("The file breaks off after {is:.3} s.")),
        _ => None,
    }
}
