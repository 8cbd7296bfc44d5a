//! A folder of its own for one test.

use std::path::{Path, PathBuf};

/// An empty folder that is removed when it goes out of scope.
#[derive(Debug)]
pub struct Scratch(PathBuf);

impl Scratch {
    /// Makes the folder. The name must be the test's own.
    ///
    /// # Panics
    /// When the system cannot make it.
    #[must_use]
    pub fn new(name: &str) -> Self {
        Self::below(&std::env::temp_dir(), name)
    }

    /// In memory, where the system has such a place: for tests that bring thousands of small files to the disk.
    ///
    /// # Panics
    /// When the system cannot make it.
    #[must_use]
    pub fn in_memory(name: &str) -> Self {
        let memory = Path::new("/dev/shm");
        if memory.is_dir() {
            return Self::below(memory, name);
        }
        Self::new(name)
    }

    fn below(place: &Path, name: &str) -> Self {
        let unique = format!("tipcurve-{}-{name}", std::process::id());
        let path = place.join(unique);
        let _ = std::fs::remove_dir_all(&path);
        std::fs::create_dir_all(&path).expect("a folder for the test");
        Self(path)
    }

    /// The folder.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.0
    }

    /// A place in the folder.
    #[must_use]
    pub fn join(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }

    /// Writes a file into the folder, making folders on the way.
    ///
    /// # Panics
    /// When the system cannot write it.
    pub fn write(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let path = self.0.join(name);
        if let Some(parent) = path.parent() {
            std::fs::create_dir_all(parent).expect("a folder for the test");
        }
        std::fs::write(&path, bytes).expect("a file for the test");
        path
    }

    /// Reads a file of the folder.
    ///
    /// # Panics
    /// When it is not there.
    #[must_use]
    pub fn read(&self, name: &str) -> Vec<u8> {
        std::fs::read(self.0.join(name)).expect("a file of the test")
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}
