//! Runs a test in a process of its own.
//!
//! The plugin reads the environment and may abort the process by design (an allocation while it
//! processes); neither may reach another test. The test program calls itself for that, with the
//! name of the one test. It knows that name from the type of the closure, which therefore has to be
//! written in the test itself.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::atomic::{AtomicU32, Ordering};

/// Names the folder of the plugin's log, as the plugin's manual says.
pub const LOG_VARIABLE: &str = "LEDGERLINE_LOG";
/// Tells the child which test it runs.
const CHILD_VARIABLE: &str = "LEDGERLINE_TEST_ALONE";

/// Variables of a child's environment, and what they hold; `None` takes one away.
pub type Environment = Vec<(&'static str, Option<PathBuf>)>;

/// Runs `test` in a process of its own, with an empty folder that is also the plugin's log folder.
///
/// # Panics
///
/// When the child fails, with everything that it printed.
pub fn alone<T: FnOnce(&Path)>(test: T) {
    alone_with(log_into, test);
}

/// The same, with an environment made from the empty folder's path.
///
/// # Panics
///
/// When the child fails, with everything that it printed.
pub fn alone_with<T: FnOnce(&Path)>(environment: fn(&Path) -> Environment, test: T) {
    let Some(output) = in_child::<T>(environment, test) else {
        return;
    };
    let printed = printed(&output);
    // A name that matches no test would pass without running anything.
    let ran = printed.contains("1 passed");
    assert!(output.status.success() && ran, "the test's own process failed:\n{printed}");
}

/// Runs `test` in a process of its own, which has to die by an abort. Returns what it printed.
///
/// # Panics
///
/// When the child ends in any other way.
pub fn dies_alone<T: FnOnce(&Path)>(test: T) -> Option<String> {
    let output = in_child::<T>(log_into, test)?;
    let printed = printed(&output);
    assert!(aborted(&output), "the test's own process did not abort:\n{printed}");
    Some(printed)
}

/// In the child: runs the test. In the parent: runs the child and returns what came of it.
fn in_child<T: FnOnce(&Path)>(environment: fn(&Path) -> Environment, test: T) -> Option<Output> {
    let name = test_name::<T>();
    if let Some(folder) = std::env::var_os(CHILD_VARIABLE) {
        test(Path::new(&folder));
        return None;
    }
    let folder = fresh_folder(name);
    let mut child = Command::new(std::env::current_exe().expect("a running test"));
    child.args([name, "--exact", "--include-ignored", "--nocapture", "--test-threads=1"]);
    child.env(CHILD_VARIABLE, &folder);
    for (variable, value) in environment(&folder) {
        match value {
            Some(value) => child.env(variable, value),
            None => child.env_remove(variable),
        };
    }
    let output = child.output().expect("the test program can be started again");
    // A failed test's folder stays, to be looked at.
    if output.status.success() {
        let _ = std::fs::remove_dir_all(&folder);
    }
    Some(output)
}

/// The environment in which the plugin logs into the folder itself.
fn log_into(folder: &Path) -> Environment {
    vec![(LOG_VARIABLE, Some(folder.into()))]
}

/// The test's path, from the name that the compiler gives to the closure in it.
fn test_name<T>() -> &'static str {
    let closure = std::any::type_name::<T>();
    let (_crate, path) = closure.split_once("::").expect("a path in a crate");
    path.split("::{{closure}}").next().expect("a part before the closure")
}

/// An empty folder that no other run uses.
fn fresh_folder(name: &str) -> PathBuf {
    static COUNT: AtomicU32 = AtomicU32::new(0);
    let number = COUNT.fetch_add(1, Ordering::Relaxed);
    let folder = std::env::temp_dir().join(format!(
        "ledgerline-{}-{number}-{}",
        std::process::id(),
        name.replace("::", "-")
    ));
    std::fs::create_dir_all(&folder).expect("a folder for the test");
    folder
}

/// What a process printed, every line marked: it is not this process that says so.
fn printed(output: &Output) -> String {
    let mut text = output.status.to_string();
    for stream in [&output.stdout, &output.stderr] {
        for line in String::from_utf8_lossy(stream).lines() {
            text += "\n    | ";
            text += line;
        }
    }
    text
}

/// Whether the process ended by an abort.
fn aborted(output: &Output) -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::process::ExitStatusExt;
        output.status.signal() == Some(6)
    }
    #[cfg(not(unix))]
    {
        // Windows reports an abort as a fail-fast exception.
        output.status.code() == Some(0xC000_0409_u32 as i32)
    }
}
