//! A secret in a file that only its owner can read.

use crate::cli::fail::Failure;
use std::fs::OpenOptions;
use std::io::Write as _;
use std::path::Path;

/// Writes a secret into a new file with mode 0600; its folder is made.
///
/// # Errors
/// The file is there already, or cannot be written.
pub fn write(path: &Path, secret: &str) -> Result<(), Failure> {
    let failed = |error: std::io::Error| {
        Failure::Configuration(format!("the token file {} cannot be made: {error}", path.display()))
    };
    if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
        std::fs::create_dir_all(folder).map_err(failed)?;
    }
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut file = options.open(path).map_err(failed)?;
    writeln!(file, "{secret}").map_err(failed)
}
