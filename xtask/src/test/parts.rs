//! The groups in which all tests run, and what each needs.

use anyhow::Result;
use ledgerline_tests::built::{ARCHIVE_VARIABLE, BUNDLES_VARIABLE, XTASK_VARIABLE};

use super::group::{Group, Variable};
use super::machine;
use crate::bundle;
use crate::dist;
use crate::workspace::Workspace;

/// A group and what it needs.
pub struct Part {
    /// What it tests, as the user reads it.
    pub what: &'static str,
    /// The tests.
    pub group: Group,
    /// Builds or looks for what they need.
    pub prepare: fn(&Workspace) -> Result<Prepared>,
}

/// What came of preparing.
pub enum Prepared {
    /// The tests can run, in an environment with these variables.
    Ready(Vec<Variable>),
    /// This machine cannot run them, for this reason.
    Missing(String),
}

/// The module of the tests on real sound.
const REAL_CHAINS: &str = "real_chains::";

/// All of them; together they run every test.
pub fn all() -> Vec<Part> {
    let part = |what, prepare, group| Part { what, group, prepare };
    vec![
        part(
            "Tests of the workspace, debug build: any allocation while processing aborts",
            |_| ready(Vec::new()),
            Group::new("workspace, debug build"),
        ),
        part(
            "The release bundles in a CLAP and a VST3 host",
            |workspace| ready(vec![bundles(workspace)?]),
            Group::new("release bundles").only("hosts"),
        ),
        part(
            "The archive, unpacked and used, and an installation",
            archive,
            Group::new("archive and installation").only("project").within("getting_it::").ignored(),
        ),
        part(
            "Checks in Python: the VST3 bundle in a host from PyPI, files against NumPy",
            python,
            // Two modules begin like this.
            Group::new("third party, in Python").only("project").within("third_party").ignored(),
        ),
        part(
            "Pictures of the editor, drawn by a GPU driver",
            |_| found(machine::vulkan_driver()),
            Group::new("pictures of the editor").only("editor").within("pictures::").ignored(),
        ),
        part(
            "Files of every kind, made and judged by ffmpeg and sox",
            |_| found(machine::programs(&["ffmpeg", "sox"])),
            Group::new("ffmpeg and sox")
                .only("command")
                .only("compare")
                .only("sum_test")
                .without(REAL_CHAINS)
                .ignored(),
        ),
        part(
            "Comparisons of real sound through chains whose effect is known",
            |_| found(machine::programs(&["ffmpeg", "sox"]).and_then(|()| machine::real_sound())),
            Group::new("chains on real sound").only("compare").within(REAL_CHAINS).ignored(),
        ),
        part(
            "Reports in a browser",
            |_| found(machine::programs(&["chromium"])),
            Group::new("reports in a browser").only("pages").ignored(),
        ),
        part(
            "The editor's window inside a host's, on an X server",
            |_| found(machine::programs(&["Xvfb", "openbox", "xdotool"])),
            Group::new("the editor's window").only("editor").within("window::").ignored(),
        ),
    ]
}

fn ready(variables: Vec<Variable>) -> Result<Prepared> {
    Ok(Prepared::Ready(variables))
}

fn found(programs: Result<(), String>) -> Result<Prepared> {
    Ok(programs.map_or_else(Prepared::Missing, |()| Prepared::Ready(Vec::new())))
}

/// Builds the bundles, which are then tested instead of the debug library.
fn bundles(workspace: &Workspace) -> Result<Variable> {
    bundle::build(workspace)?;
    Ok((BUNDLES_VARIABLE, workspace.bundled()))
}

/// Makes the archive, and names it and the program that installs.
fn archive(workspace: &Workspace) -> Result<Prepared> {
    if !cfg!(target_os = "linux") {
        return Ok(Prepared::Missing("its tests use the tools of Linux".into()));
    }
    if let Err(reason) = machine::programs(&["tar", "sha256sum", "objdump"]) {
        return Ok(Prepared::Missing(reason));
    }
    let archive = dist::make(workspace)?;
    ready(vec![(ARCHIVE_VARIABLE, archive), (XTASK_VARIABLE, std::env::current_exe()?)])
}

/// Makes a Python environment and the bundles.
fn python(workspace: &Workspace) -> Result<Prepared> {
    match machine::third_party_host(workspace) {
        Ok(python) => ready(vec![bundles(workspace)?, ("LEDGERLINE_PYTHON", python)]),
        Err(reason) => Ok(Prepared::Missing(reason)),
    }
}
