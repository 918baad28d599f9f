//! A disk that keeps only what was synced, and its state after the power was cut.

use std::fs;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

use crate::Folder;

/// What a disk writes whole or not at all, in bytes: the least that disks promise.
const SECTOR: usize = 512;

/// What became of the bytes that were written and not synced when the power was cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unsynced {
    /// None of them reached the disk.
    Gone,
    /// Each sector by the toss of a coin, as disks that reorder their writes leave it.
    Torn,
}

/// A disk with the folder that a service sees on it.
pub struct Disk {
    seen: Folder,
    platter: Folder,
}

impl Disk {
    /// An empty one.
    pub fn new() -> Self {
        let disk = Self {
            seen: Folder::new(),
            platter: Folder::new(),
        };
        for folder in [&disk.seen.0, &disk.files(), &disk.platter.0.join("folders")] {
            fs::create_dir_all(folder).unwrap();
        }
        disk
    }

    /// Where a service on it keeps its data; made by the service.
    pub fn data(&self) -> PathBuf {
        self.seen.0.join("data")
    }

    /// Has a program run on this disk.
    pub fn run<'c>(&self, command: &'c mut Command) -> &'c mut Command {
        command
            .env("LD_PRELOAD", layer())
            .env("CUT_ROOT", &self.seen.0)
            .env("CUT_PLATTER", &self.platter.0)
    }

    /// The disk as it is found after the power was cut. Whatever ran on it has been killed.
    pub fn cut(self, unsynced: Unsynced) -> Self {
        let next = Self::new();
        let root = fs::read_to_string(self.platter.0.join("root")).unwrap();
        self.restore(&root, &self.seen.0, &next.seen.0, unsynced);
        next
    }

    fn files(&self) -> PathBuf {
        self.platter.0.join("files")
    }

    fn restore(&self, folder: &str, seen: &Path, to: &Path, unsynced: Unsynced) {
        // A folder that was never synced is empty.
        let listed = fs::read_to_string(self.platter.0.join("folders").join(folder));
        for line in listed.unwrap_or_default().lines() {
            let mut parts = line.splitn(3, ' ');
            let mut part = || parts.next().unwrap();
            let (kind, identity, name) = (part(), part(), part());
            let (seen, to) = (seen.join(name), to.join(name));
            if kind == "d" {
                fs::create_dir(&to).unwrap();
                self.restore(identity, &seen, &to, unsynced);
                continue;
            }
            // A file whose name was synced and whose bytes were not is empty.
            let synced = fs::read(self.files().join(identity)).unwrap_or_default();
            let bytes = match unsynced {
                Unsynced::Gone => synced,
                Unsynced::Torn => torn(synced, &written(&seen, identity)),
            };
            fs::write(&to, bytes).unwrap();
        }
    }
}

/// What was written to a file, synced or not; nothing when it is another file of the same name now.
fn written(path: &Path, identity: &str) -> Vec<u8> {
    let inode = fs::metadata(path).map(|about| format!("{:x}-", about.ino()));
    match inode.is_ok_and(|inode| identity.starts_with(&inode)) {
        true => fs::read(path).unwrap(),
        false => Vec::new(),
    }
}

fn torn(mut synced: Vec<u8>, written: &[u8]) -> Vec<u8> {
    let keeps = synced.len();
    for (number, sector) in written.chunks(SECTOR).enumerate() {
        let at = number * SECTOR;
        if fastrand::bool() {
            let end = at + sector.len();
            if synced.len() < end {
                synced.resize(end, 0);
            }
            synced[at..end].copy_from_slice(sector);
        }
    }
    // The new length may be lost too.
    if synced.len() > keeps && fastrand::bool() {
        synced.truncate(fastrand::usize(keeps..=synced.len()));
    }
    synced
}

/// The layer between a program and its disk, compiled once.
fn layer() -> &'static Path {
    static LAYER: OnceLock<(Folder, PathBuf)> = OnceLock::new();
    let (_, path) = LAYER.get_or_init(|| {
        let folder = Folder::new();
        fs::create_dir_all(&folder.0).unwrap();
        let path = folder.0.join("power_cut.so");
        let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/durability/power_cut.c");
        let compiler = std::env::var("CC").unwrap_or_else(|_| "cc".to_owned());
        let mut command = Command::new(compiler);
        command
            .args(["-shared", "-fPIC", "-O2", "-pthread", "-o"])
            .arg(&path)
            .arg(source);
        let done = command
            .status()
            .expect("a C compiler links every Rust program");
        assert!(done.success(), "{command:?}");
        (folder, path)
    });
    path
}
