//! What macOS wants to know about a bundle: `Info.plist` and `PkgInfo`.

use std::fs;
use std::path::Path;

use anyhow::Result;

/// Reverse domain name of the plugin, as its CLAP id begins.
const IDENTIFIER: &str = "audio.ledgerline.ledgerline";

/// Writes both files into a bundle whose binary is called `name`.
///
/// # Errors
///
/// When they cannot be written.
pub fn write(bundle: &Path, name: &str) -> Result<()> {
    let contents = bundle.join("Contents");
    let format = bundle.extension().unwrap_or_default().to_string_lossy();
    fs::write(contents.join("PkgInfo"), "BNDL????")?;
    fs::write(contents.join("Info.plist"), info(name, &format))?;
    Ok(())
}

fn info(name: &str, format: &str) -> String {
    let version = env!("CARGO_PKG_VERSION");
    let entries = [
        ("CFBundleDevelopmentRegion", "English"),
        ("CFBundleExecutable", name),
        ("CFBundleIdentifier", &format!("{IDENTIFIER}.{format}")),
        ("CFBundleInfoDictionaryVersion", "6.0"),
        ("CFBundleName", "Ledgerline"),
        ("CFBundlePackageType", "BNDL"),
        ("CFBundleShortVersionString", version),
        ("CFBundleSignature", "????"),
        ("CFBundleVersion", version),
    ]
    .map(|(key, value)| format!("    <key>{key}</key>\n    <string>{value}</string>\n"))
    .concat();
    format!(
        r#"<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE plist PUBLIC "-//Apple//DTD PLIST 1.0//EN" "http://www.apple.com/DTDs/PropertyList-1.0.dtd">
<plist version="1.0">
<dict>
{entries}    <key>NSHighResolutionCapable</key>
    <true/>
</dict>
</plist>
"#
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_has_a_value_and_the_executable_is_named() {
        let text = info("ledgerline", "vst3");
        assert_eq!(text.matches("<key>").count(), 1 + text.matches("<string>").count());
        assert!(text.contains("<key>CFBundleExecutable</key>\n    <string>ledgerline</string>"));
    }
}
