//! Short lists as records hold them.

use serde::ser::SerializeSeq;
use serde::{Serialize, Serializer};

/// Serializes a counted list of plain data without the unused places behind its end.
pub(crate) fn serialize_list<T: Serialize, S: Serializer>(
    list: &[T],
    serializer: S,
) -> Result<S::Ok, S::Error> {
    let mut sequence = serializer.serialize_seq(Some(list.len()))?;
    for item in list {
        sequence.serialize_element(item)?;
    }
    sequence.end()
}
