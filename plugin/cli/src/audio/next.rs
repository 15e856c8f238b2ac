//! What comes out of a container, one after another.

use symphonia::core::packet::Packet;

/// What comes next.
pub(super) enum Next {
    Packet(Packet),
    /// A packet that follows the one before at once and has no time of its own.
    Laced(Packet),
    /// Something between two packets could not be read.
    Damaged,
    /// From here on another stream follows; ask `reader` for its tracks.
    Reset,
    End,
    /// The file ends within a packet.
    BreaksOff,
}
