//! The built plugin in two hosts, CLAP and VST3: what it shows, that audio passes, that what it
//! logs is what the measures read, that state comes back, and what bad input does.
//!
//! Each scenario is written once over [`ledgerline_tests::hosts::Host`] and runs in both formats,
//! every time in a process of its own.

/// Makes a test in each format from scenarios of the form `fn name<H: BuiltFor>(folder: &Path)`.
macro_rules! in_both_formats {
    ($($scenario:ident),+ $(,)?) => {
        mod clap {
            $(#[test]
            fn $scenario() {
                ledgerline_tests::alone::alone(|folder| {
                    super::$scenario::<ledgerline_tests::hosts::ClapHost>(folder);
                });
            })+
        }
        mod vst3 {
            $(#[test]
            fn $scenario() {
                ledgerline_tests::alone::alone(|folder| {
                    super::$scenario::<ledgerline_tests::hosts::Vst3Host>(folder);
                });
            })+
        }
    };
}

mod allocation;
mod bad_input;
mod buses;
mod entries;
mod files;
#[cfg(unix)]
mod full_disk;
mod logging;
mod material;
mod other_versions;
mod passing;
mod readings;
mod saved_state;
mod shown;
mod splices;
mod state;
mod sum_test;
#[cfg(target_os = "linux")]
mod threads;
mod turning;
mod unasked;
