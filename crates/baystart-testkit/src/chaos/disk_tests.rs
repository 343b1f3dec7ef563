//! The fault library under a small Python program, which knows nothing of it.
#![allow(clippy::unwrap_used)]

use super::{Disk, DiskFault, FaultLibrary, Kind};
use std::process::Command;

/// Does eight watched operations, and as many that are not, and says how each ended.
const PROGRAM: &str = r#"
import errno, os, sys
def said(what, run):
    try:
        print(what, run())
    except OSError as error:
        print(what, errno.errorcode[error.errno])
for name in sys.argv[1:]:
    try:
        file = os.open(name, os.O_RDWR | os.O_CREAT)
    except OSError as error:
        print("open", errno.errorcode[error.errno])
        continue
    print("open 0")
    said("write", lambda: os.write(file, b"12345678"))
    said("pwrite", lambda: os.pwrite(file, b"12345678", 8))
    said("writev", lambda: os.writev(file, [b"1234", b"56"]))
    said("fsync", lambda: os.fsync(file))
    said("fdatasync", lambda: os.fdatasync(file))
    said("truncate", lambda: os.ftruncate(file, 6))
    said("write", lambda: os.write(file, b"12345678"))
    os.close(file)
    # The number of a closed file is used again for one that is not watched.
    with open("/dev/null", "wb", buffering=0) as other:
        said("null", lambda: other.write(b"1"))
"#;

/// What the program says, a word for each operation, and how many were counted.
fn run(library: &FaultLibrary, fault: Option<DiskFault>) -> (Vec<String>, u64, u64) {
    let folder = tempfile::tempdir().unwrap();
    let inside = folder.path().join("data.db");
    let disk = Disk::watch(library, &inside, &folder.path().join("control"));
    if let Some(fault) = fault {
        disk.arm(fault);
    }
    let output = Command::new("python3")
        .args(["-c", PROGRAM])
        .args([&inside, &folder.path().join("other")])
        .envs(disk.environment.iter().map(|(name, value)| (name, value)))
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let text = String::from_utf8(output.stdout).unwrap();
    (text.lines().map(str::to_owned).collect(), disk.count(), disk.failed())
}

fn compiled() -> (tempfile::TempDir, FaultLibrary) {
    let folder = tempfile::tempdir().unwrap();
    let library = FaultLibrary::compile(folder.path());
    (folder, library)
}

fn fault(at: u64, kind: Kind, lasting: bool) -> Option<DiskFault> {
    Some(DiskFault { at, kind, lasting })
}

const SOUND: [&str; 9] = [
    "open 0",
    "write 8",
    "pwrite 8",
    "writev 6",
    "fsync None",
    "fdatasync None",
    "truncate None",
    "write 8",
    "null 1",
];

/// The words of the sound run with some replaced.
fn but(changed: &[(usize, &str)]) -> Vec<String> {
    let mut words: Vec<String> =
        SOUND.iter().chain(&SOUND).map(|word| (*word).to_owned()).collect();
    for (at, word) in changed {
        (*word).clone_into(&mut words[*at]);
    }
    words
}

#[test]
fn without_a_fault_it_only_counts() {
    let (_folder, library) = compiled();
    assert_eq!(run(&library, None), (but(&[]), 8, 0));
}

#[test]
fn each_operation_can_fail_and_only_that_one() {
    let (_folder, library) = compiled();
    let whats = ["write", "pwrite", "writev", "fsync", "fdatasync", "truncate", "write"];
    for (at, what) in whats.into_iter().enumerate() {
        let number = u64::try_from(at).unwrap() + 2;
        for (kind, name) in [(Kind::Full, "ENOSPC"), (Kind::Io, "EIO")] {
            let (words, count, failed) = run(&library, fault(number, kind, false));
            assert_eq!(words, but(&[(at + 1, &format!("{what} {name}"))]));
            assert_eq!((count, failed), (8, 1));
        }
    }
    let (words, _, failed) = run(&library, fault(1, Kind::Io, false));
    assert_eq!((words[0].as_str(), failed), ("open EIO", 1));
}

#[test]
fn half_a_write_is_followed_by_a_full_disk() {
    let (_folder, library) = compiled();
    let (words, _, failed) = run(&library, fault(2, Kind::Half, false));
    assert_eq!(words, but(&[(1, "write 4"), (2, "pwrite ENOSPC")]));
    assert_eq!(failed, 1);
    // The first piece alone, and half of it.
    let (words, _, _) = run(&library, fault(4, Kind::Half, false));
    assert_eq!(words, but(&[(3, "writev 2"), (7, "write ENOSPC")]));
}

#[test]
fn a_disk_that_stays_full_hinders_what_needs_space() {
    let (_folder, library) = compiled();
    let (words, _, failed) = run(&library, fault(3, Kind::Full, true));
    let changed =
        [(2, "pwrite ENOSPC"), (3, "writev ENOSPC"), (6, "truncate ENOSPC"), (7, "write ENOSPC")];
    assert_eq!(words, but(&changed));
    assert_eq!(failed, 4);
    let (words, _, _) = run(&library, fault(5, Kind::Io, true));
    let changed = [(4, "fsync EIO"), (5, "fdatasync EIO"), (6, "truncate EIO"), (7, "write EIO")];
    assert_eq!(words, but(&changed));
}
