//! What came with a state and replaces the output is set to off before anything else happens to
//! the parameters, unless somebody has asked for it meanwhile ([`crate::params::switched_off`]).

use nice_plug::params::InternalParamMut;

use crate::choices::{Listen, SumTest};
use crate::params::switched_off::Replacing;
use crate::params::{LedgerlineParams, ListenKind, SumTestKind};

/// What replaces the output, with the ids of the parameters.
pub(super) const REPLACING: [(Replacing, u32); 2] =
    [(Replacing::Listen, parameter_hash("listen")), (Replacing::Feed, parameter_hash("sum_test"))];

/// The number that both formats carry in place of a parameter's id: the framework's polynomial hash
/// without the top bit.
pub(super) const fn parameter_hash(id: &str) -> u32 {
    let (bytes, mut hash, mut index) = (id.as_bytes(), 0_u32, 0);
    while index < bytes.len() {
        hash = hash.wrapping_mul(31).wrapping_add(bytes[index] as u32);
        index += 1;
    }
    hash & !(1 << 31)
}

/// Sets to off what is due, and gives the id of each parameter to `tell`, whose value is 0 now.
/// Neither waits nor allocates. To be called where the framework itself sets parameters: at the
/// head of a block, and where the host sets some while there are none.
pub(super) fn settle(params: &LedgerlineParams, mut tell: impl FnMut(u32)) {
    for (which, id) in REPLACING {
        if settle_one(params, which) {
            tell(id);
        }
    }
}

/// Sets one to off if it is due, and says whether it was.
pub(super) fn settle_one(params: &LedgerlineParams, which: Replacing) -> bool {
    let held = &params.marker.held;
    if !held.is_due(which) {
        return false;
    }
    // SAFETY: the framework's functions of this name store numbers atomically; it marks them as
    // unsafe because hosts have to be told, which the caller does.
    unsafe {
        match which {
            Replacing::Listen => params.listen._internal_set_plain_value(ListenKind::Off),
            Replacing::Feed => params.sum_test._internal_set_plain_value(SumTestKind::Off),
        };
    }
    held.release(which);
    true
}

/// Whether silence is a part of what plays or of what is measured.
pub(super) fn is_awake(params: &LedgerlineParams) -> bool {
    let choices = params.choices();
    choices.sum_test != SumTest::Off && !choices.bypass
}

/// Whether the output sounds on after the input.
pub(super) fn has_tail(params: &LedgerlineParams) -> bool {
    let choices = params.choices();
    choices.listen != Listen::Off && !choices.bypass
}
