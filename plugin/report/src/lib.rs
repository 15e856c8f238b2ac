//! Reports as pages that need nothing but a browser: made by the command and by the plugin's
//! editor from the same records.

pub mod audit;
