//! Reports as pages that need nothing but a browser: made by the command and by the plugin's
//! editor from the same records.
//!
//! A page is one HTML file without script, picture or font from elsewhere. Its charts are vector
//! drawings whose colours are the page's own, so that one drawing serves a bright screen, a dark
//! one and paper; the numbers behind each chart stand in a table under it.

// One page a kind of record.
pub mod audit;
pub mod compare;
pub mod read;
pub mod session;

// What they are made of.
mod chart;
pub mod entries;
mod file;
mod findings;
mod glossary;
mod history;
mod made;
pub mod numbers;
mod page;
mod palette;
mod settings;
pub mod utc;
mod wide;

pub use made::Made;
