//! Two entries beside each other, as changes are told from them.

use super::super::evidence::{Evidence, MeanEnergies};
use super::super::finder::{BUS, SUM};

/// Two entries beside each other.
pub(super) struct Two<'a> {
    pub(super) before: &'a Evidence,
    pub(super) after: &'a Evidence,
    /// Whether both are steady.
    pub(super) steady: bool,
}

impl Two<'_> {
    /// By how much a mean power changed, in dB.
    pub(super) fn db(&self, audible: bool, of: impl Fn(&MeanEnergies) -> f64) -> f64 {
        let band = usize::from(audible);
        10.0 * (of(&self.after.energies[band]) / of(&self.before.energies[band])).log10()
    }

    /// What chance may make of a change of level, in dB: two standard deviations.
    pub(super) fn chance_db(&self, bus: bool, audible: bool) -> f64 {
        let signal = if bus { BUS } else { SUM };
        let of = |evidence: &Evidence| evidence.scatter.deviation_db(signal, audible);
        2.0 * of(self.before).hypot(of(self.after))
    }
}
