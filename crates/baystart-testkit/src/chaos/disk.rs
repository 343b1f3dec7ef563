//! A disk that fails: a small library of C's calls (`faults/fail.c`) before a child process.

use std::fs::File;
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};
use std::process::Command;

const SOURCE: &str = include_str!("../../faults/fail.c");
/// Numbers in the control file; see the head of the source.
const NUMBERS: usize = 8;

/// How an operation fails.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// ENOSPC: no space is left.
    Full,
    /// EIO.
    Io,
    /// Half of a write is done, and for the rest there is no space.
    Half,
}

/// Which operation fails and how.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DiskFault {
    /// From 1.
    pub at: u64,
    /// How.
    pub kind: Kind,
    /// Whether the later ones fail too, until it is mended.
    pub lasting: bool,
}

/// The compiled library.
#[derive(Clone, Debug)]
pub struct FaultLibrary(PathBuf);

impl FaultLibrary {
    /// Compiles it with `cc` into a folder.
    ///
    /// # Panics
    /// There is no C compiler, or it refuses.
    #[must_use]
    #[allow(clippy::expect_used)]
    pub fn compile(folder: &Path) -> Self {
        let (source, library) = (folder.join("fail.c"), folder.join("fail.so"));
        std::fs::write(&source, SOURCE).expect("the source is written");
        let made = Command::new("cc")
            .args(["-std=gnu11", "-Wall", "-Wextra", "-Werror", "-O1", "-fPIC", "-shared", "-o"])
            .args([&library, &source])
            .arg("-ldl")
            .output()
            .expect("cc is there: the fault tests need a C compiler");
        assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
        Self(library)
    }
}

/// The control of one process's disk.
#[derive(Debug)]
pub struct Disk {
    control: File,
    /// What the process must have in its environment.
    pub environment: Vec<(&'static str, PathBuf)>,
}

impl Disk {
    /// Watches the files whose path begins with `prefix`; none fails yet.
    ///
    /// # Panics
    /// The control file cannot be made.
    #[must_use]
    #[allow(clippy::expect_used)]
    pub fn watch(library: &FaultLibrary, prefix: &Path, control: &Path) -> Self {
        std::fs::write(control, [0; 8 * NUMBERS]).expect("the control file is written");
        let environment = vec![
            ("LD_PRELOAD", library.0.clone()),
            ("BAYSTART_FAULT_PREFIX", prefix.to_owned()),
            ("BAYSTART_FAULT_CONTROL", control.to_owned()),
        ];
        let open = File::options().read(true).write(true).open(control);
        Self { control: open.expect("the control file opens"), environment }
    }

    /// The fault that is to come.
    pub fn arm(&self, fault: DiskFault) {
        let kind = match fault.kind {
            Kind::Full => 1,
            Kind::Io => 2,
            Kind::Half => 3,
        };
        self.set(2, kind);
        self.set(3, u64::from(fault.lasting));
        self.set(1, fault.at);
    }

    /// Nothing fails any more.
    pub fn mend(&self) {
        self.set(3, 0);
        self.set(1, 0);
    }

    /// Operations so far.
    #[must_use]
    pub fn count(&self) -> u64 {
        self.get(0)
    }

    /// Operations that failed.
    #[must_use]
    pub fn failed(&self) -> u64 {
        self.get(4)
    }

    /// What the first one that failed was.
    #[must_use]
    pub fn what(&self) -> &'static str {
        match self.get(5) {
            1 => "write",
            2 => "sync",
            3 => "truncate",
            4 => "open",
            _ => "nothing",
        }
    }

    #[allow(clippy::expect_used)]
    fn set(&self, number: u64, value: u64) {
        self.control.write_all_at(&value.to_ne_bytes(), 8 * number).expect("the control is set");
    }

    #[allow(clippy::expect_used)]
    fn get(&self, number: u64) -> u64 {
        let mut bytes = [0; 8];
        self.control.read_exact_at(&mut bytes, 8 * number).expect("the control is read");
        u64::from_ne_bytes(bytes)
    }
}

#[cfg(test)]
#[path = "disk_tests.rs"]
mod tests;
