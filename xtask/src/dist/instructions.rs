//! The text that says how to install the archive's content by hand.

use super::needs::Needs;

/// How it goes on the system that this runs on.
const HERE: &str = if cfg!(target_os = "windows") {
    include_str!("instructions/windows.txt")
} else if cfg!(target_os = "macos") {
    include_str!("instructions/macos.txt")
} else {
    include_str!("instructions/linux.txt")
};

/// The text, with what the binaries need.
#[must_use]
pub fn text(needs: &Needs) -> String {
    let mut text = format!("Ledgerline {}\n\n{HERE}", env!("CARGO_PKG_VERSION"));
    if !needs.libraries.is_empty() {
        text += "\nWhat it needs\n\n";
        if let Some((major, minor)) = needs.glibc {
            text += &format!("GNU C library {major}.{minor} or newer. ");
        }
        text += "Libraries of the system, and no others:\n";
        for library in &needs.libraries {
            text += &format!("    {library}\n");
        }
        if cfg!(target_os = "linux") {
            text += "The plugin's window asks for X11 and OpenGL when it is opened.\n";
        }
    }
    text + "\nThe checksums of all files are in SHA256SUMS. docs/hosts.md helps where a host does \
            not find the\nplugin. Ledgerline's licence is in LICENSE, those of what it is built \
            from are in\nTHIRD-PARTY-LICENCES.txt.\n"
}
