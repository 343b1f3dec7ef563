//! The files of an SQLite database: for their owner only.

use crate::error::StoreError;
use std::ffi::OsString;
use std::path::{Path, PathBuf};

/// Rights of whoever is neither the owner nor of the group.
#[cfg(unix)]
const OTHERS: u32 = 0o007;

/// What SQLite puts beside the database.
const BESIDE: [&str; 3] = ["-wal", "-shm", "-journal"];

/// The database's file, and those beside it.
pub(crate) fn beside(path: &Path, end: &str) -> PathBuf {
    let mut name = OsString::from(path);
    name.push(end);
    PathBuf::from(name)
}

/// Makes the file with mode 0600 where it is missing, whatever the umask; SQLite
/// gives the files beside it the same mode. Of files that are there already the
/// rights of others are taken away; those of the group stay, since an operator may
/// have given them to a backup.
///
/// # Errors
/// The file cannot be made.
pub(crate) fn prepare(path: &Path) -> Result<(), StoreError> {
    let mut options = std::fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    match options.open(path) {
        Ok(_) => return Ok(()),
        Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {}
        Err(error) => {
            let name = path.display();
            return Err(StoreError::Settings(format!(
                "the database {name} cannot be made: {error}"
            )));
        }
    }
    shut(path);
    BESIDE.iter().for_each(|end| shut(&beside(path, end)));
    Ok(())
}

/// Takes the rights of others away, where the file is ours.
fn shut(path: &Path) {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let Ok(about) = std::fs::metadata(path) else { return };
        let mode = about.permissions().mode();
        if !about.is_file() || mode & OTHERS == 0 {
            return;
        }
        let fewer = std::fs::Permissions::from_mode(mode & !OTHERS);
        let name = path.display();
        match std::fs::set_permissions(path, fewer) {
            Ok(()) => tracing::warn!(
                "{name} could be read by every user of this machine; it no longer can"
            ),
            Err(error) => {
                tracing::warn!("{name} can be read by every user of this machine: {error}")
            }
        }
    }
}
