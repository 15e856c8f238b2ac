//! What the tests, the demo and the benchmark share: headless hosts for the built plugin, the
//! command, the signals that they play, and damaged files.

pub mod alone;
pub mod browser;
pub mod built;
pub mod chains;
pub mod command;
#[cfg(target_os = "linux")]
pub mod desktop;
pub mod folder;
pub mod formulas;
pub mod fuzz;
pub mod hosts;
pub mod journal;
pub mod memory;
pub mod mixer;
pub mod mutate;
pub mod readings;
pub mod real_chains;
pub mod runs;
pub mod signals;
pub mod tables;
pub mod vocabulary;
pub mod watched;
pub mod wav;
