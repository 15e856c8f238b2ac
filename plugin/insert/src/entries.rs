//! Entries of the bus: the audio thread copies what the meter is given into a [`stream`], and the
//! background thread finds the entries in it ([`keeper`]) and pins them for the editor ([`board`]).
//! What the user's own meter showed of them is held against what was measured ([`beside`]).

pub mod beside;
pub mod board;
pub mod keeper;
mod quiet;
pub mod stream;

pub use keeper::Keeper;
pub use stream::StreamIn;
