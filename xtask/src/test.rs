//! Runs every test, and says at the end what passed, what failed and what was skipped, and why.

mod group;
mod machine;

use std::path::PathBuf;

use anyhow::{Result, bail};

use ledgerline_tests::built::{ARCHIVE_VARIABLE, XTASK_VARIABLE};

use crate::bundle;
use crate::dist;
use crate::flags::TestFlags;
use crate::run::announce;
use crate::workspace::Workspace;
use group::{Group, Outcome};

/// A group that this machine cannot run.
struct Skip {
    what: &'static str,
    reason: String,
}

/// `cargo xtask test`
///
/// # Errors
///
/// When a test fails, or, where the flags say so, is skipped.
pub fn run(flags: &TestFlags) -> Result<()> {
    let workspace = Workspace::find()?;
    let mut outcomes = Vec::new();
    let mut skips = Vec::new();

    announce("Tests of the workspace, debug build: any allocation while processing aborts");
    outcomes.push(Group::new("workspace, debug build").run(&workspace)?);

    bundle::build(&workspace)?;
    announce("The release bundles in a CLAP and a VST3 host");
    let bundled = || Group::new("release bundles").with_bundles(&workspace);
    outcomes.push(bundled().only("hosts").run(&workspace)?);

    for (what, wanted) in beyond_the_toolchain(&workspace) {
        announce(what);
        match wanted {
            Ok(group) => outcomes.push(group.run(&workspace)?),
            Err(reason) => skips.push(Skip { what, reason }),
        }
    }
    report(&outcomes, &skips);
    judge(flags, &outcomes, &skips)
}

/// Groups that not every machine can run, and why this one cannot.
fn beyond_the_toolchain(workspace: &Workspace) -> [(&'static str, Result<Group, String>); 6] {
    let python = machine::third_party_host(workspace);
    [
        (
            "The archive, unpacked and used, and an installation",
            getting_it(workspace).map(|(archive, xtask)| {
                Group::new("archive and installation")
                    .with(ARCHIVE_VARIABLE, &archive)
                    .with(XTASK_VARIABLE, &xtask)
                    .only("getting_it")
                    .ignored()
            }),
        ),
        (
            "Checks in Python: the VST3 bundle in a host from PyPI, files against NumPy",
            python.map(|python| {
                Group::new("third party, in Python")
                    .with_bundles(workspace)
                    .with("LEDGERLINE_PYTHON", &python)
                    .only("third_party")
                    .only("third_party_files")
                    .ignored()
            }),
        ),
        (
            "Pictures of the editor, drawn by a GPU driver",
            machine::vulkan_driver().map(|()| {
                Group::new("pictures of the editor")
                    .named("pictures::")
                    .only("editor_pictures")
                    .ignored()
            }),
        ),
        (
            "Files of every kind, made and judged by ffmpeg and sox",
            machine::programs(&["ffmpeg", "sox"]).map(|()| {
                Group::new("ffmpeg and sox")
                    .only("formats")
                    .only("read_beside_others")
                    .only("compare_codecs")
                    .ignored()
            }),
        ),
        (
            "Reports in a browser",
            machine::programs(&["chromium"])
                .map(|()| Group::new("reports in a browser").only("pages").ignored()),
        ),
        (
            "The editor's window inside a host's, on an X server",
            machine::programs(&["Xvfb", "openbox", "xdotool"])
                .map(|()| Group::new("the editor's window").only("window").ignored()),
        ),
    ]
}

/// Makes the archive, and names it and the program that installs.
fn getting_it(workspace: &Workspace) -> Result<(PathBuf, PathBuf), String> {
    if !cfg!(target_os = "linux") {
        return Err("its tests use the tools of Linux".into());
    }
    machine::programs(&["tar", "sha256sum", "objdump"])?;
    let archive = dist::make(workspace).map_err(|error| format!("{error:#}"))?;
    Ok((archive, std::env::current_exe().map_err(|error| error.to_string())?))
}

fn report(outcomes: &[Outcome], skips: &[Skip]) {
    announce("Results");
    for outcome in outcomes {
        println!(
            "{:<28}{:>5} passed {:>3} failed   {:.0} s",
            outcome.name, outcome.passed, outcome.failed, outcome.seconds
        );
    }
    for skip in skips {
        println!("{:<28}skipped: {}", skip.what, skip.reason);
    }
    for outcome in outcomes {
        for name in &outcome.failures {
            println!("FAILED  {}: {name}", outcome.name);
        }
    }
    let sum = |count: fn(&Outcome) -> u32| outcomes.iter().map(count).sum::<u32>();
    println!(
        "{} passed, {} failed, {} of {} groups skipped",
        sum(|outcome| outcome.passed),
        sum(|outcome| outcome.failed),
        skips.len(),
        skips.len() + outcomes.len()
    );
}

fn judge(flags: &TestFlags, outcomes: &[Outcome], skips: &[Skip]) -> Result<()> {
    if let Some(outcome) = outcomes.iter().find(|outcome| !outcome.succeeded) {
        bail!("tests failed: {}", outcome.name);
    }
    if let Some(outcome) = outcomes.iter().find(|outcome| outcome.passed == 0) {
        bail!("no test ran: {}", outcome.name);
    }
    if flags.no_skips && !skips.is_empty() {
        bail!("tests were skipped, and --no-skips allows none");
    }
    Ok(())
}
