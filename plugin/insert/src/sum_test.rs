//! The sum test in the plugin: an instance plays one of the two feeds, or hears the bus and fills
//! in the table. Nothing connects the instances but the host's transport.

pub mod board;
pub mod bus;
pub mod desk;
pub mod entries;
pub mod feed;
pub mod place;
pub mod record;
pub mod save;
