//! What people type for a parameter that is one of several things. The framework (nice-plug 0.4.2)
//! takes the whole name alone, letter by letter, and has no place for a reader of ours.

use nice_plug::prelude::Enum;

use super::asked::parameter_hash;
use crate::params::{
    ClipAtKind, FeedsPlayKind, HalvesKind, ListenKind, MeterBandKind, MeterDetectorKind,
    ReferenceKind, SumTestKind, TargetKind, TruePeakKind, WindowKind,
};
use crate::typed;

/// Finds one of several things by a text, and says which of how many it is.
type Among = fn(&str) -> Option<(usize, usize)>;

/// Which of how many things a text means; `None` where it is none, or the parameter has no such.
pub(super) fn one_of(parameter: u32, text: &str) -> Option<(usize, usize)> {
    const KINDS: [(u32, Among); 11] = [
        (parameter_hash("target_kind"), among::<TargetKind>),
        (parameter_hash("halves"), among::<HalvesKind>),
        (parameter_hash("rms_window"), among::<WindowKind>),
        (parameter_hash("rms_reference"), among::<ReferenceKind>),
        (parameter_hash("true_peak"), among::<TruePeakKind>),
        (parameter_hash("clip_at"), among::<ClipAtKind>),
        (parameter_hash("listen"), among::<ListenKind>),
        (parameter_hash("sum_test"), among::<SumTestKind>),
        (parameter_hash("your_meter"), among::<MeterDetectorKind>),
        (parameter_hash("your_meter_band"), among::<MeterBandKind>),
        (parameter_hash("feeds_play"), among::<FeedsPlayKind>),
    ];
    let (_, among) = KINDS.into_iter().find(|(id, _)| *id == parameter)?;
    among(text)
}

fn among<E: Enum>(text: &str) -> Option<(usize, usize)> {
    let names = E::variants();
    let index = typed::one_of(text, names, E::ids().unwrap_or_default())?;
    Some((index, names.len()))
}
