//! How every number, moment and list is written wherever somebody reads it: sentences, screens,
//! pages, terminals. What a thing is called stands on its type, in a method `word`.

mod bits;
mod choices;
mod count;
mod duration;
mod frequency;
mod level;
mod list;
mod moment;
mod number;
mod room;
mod share;

pub use bits::bits;
pub use count::{count, counted, signed_count};
pub use duration::{duration, precise_duration};
pub use frequency::{frequency, hertz};
pub use level::{change, level, spoken};
pub use list::list;
pub use moment::moment;
pub use number::{distance, fixed, plain, signed, uncertainty, with_error};
pub use room::{AUDIBLE_ROOM, FOLD_DOWN, Lift, ROOM, WITHHELD, Withheld, lift, withheld};
pub use share::share;

/// What stands for a reading that does not exist.
pub const NONE: &str = "–";
