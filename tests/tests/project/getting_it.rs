//! What a user takes home, used as a user would: the archive for those without a toolchain, and the
//! installation. Both need what `cargo xtask test` builds, and tools that not every system has.

#[cfg(target_os = "linux")]
mod archive;
#[cfg(target_os = "linux")]
mod installed;
mod used;
