//! Files while they are being made: they go when the work fails, and get their name only when it is done.

use super::BackupError;
use std::fs::{File, OpenOptions};
use std::os::unix::fs::OpenOptionsExt as _;
use std::path::{Path, PathBuf};

/// A file that is not finished, with whatever SQLite puts beside it; all of it is removed unless it gets its name.
pub(super) struct Unfinished {
    path: PathBuf,
}

impl Unfinished {
    /// A new empty file that only its owner reads: the key that signs certificates will be in it.
    pub(super) fn new(path: PathBuf) -> Result<(Self, File), BackupError> {
        let made = OpenOptions::new().read(true).write(true).create_new(true).mode(0o600).open(&path);
        match made {
            Ok(file) => Ok((Self { path }, file)),
            Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => Err(BackupError::Exists(path)),
            Err(error) => Err(BackupError::File(path, error)),
        }
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Gives the file its name, unless something has it, and comes back when the disk has both the file and the name.
    pub(super) fn name(self, path: &Path) -> Result<(), BackupError> {
        File::open(&self.path).and_then(|file| file.sync_all()).map_err(BackupError::file(&self.path))?;
        // A link is refused where a rename would put itself in another's place.
        match std::fs::hard_link(&self.path, path) {
            Ok(()) => {}
            Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {
                return Err(BackupError::Exists(path.to_owned()));
            }
            // A file system without links: looked at first, then renamed.
            Err(_) if !path.exists() => std::fs::rename(&self.path, path).map_err(BackupError::file(path))?,
            Err(error) => return Err(BackupError::File(path.to_owned(), error)),
        }
        let folder = folder_of(path);
        File::open(&folder).and_then(|folder| folder.sync_all()).map_err(BackupError::file(&folder))
    }
}

impl Drop for Unfinished {
    fn drop(&mut self) {
        for end in ["", "-wal", "-shm", "-journal"] {
            // Not there is what is wanted.
            let _ = std::fs::remove_file(with_end(&self.path, end));
        }
    }
}

/// The path with something put on its end.
pub(super) fn with_end(path: &Path, end: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(end);
    PathBuf::from(name)
}

fn folder_of(path: &Path) -> PathBuf {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    folder.map_or_else(|| PathBuf::from("."), Path::to_owned)
}

/// The file of an SQLite address; none for another database.
pub(crate) fn sqlite_file(url: &str) -> Option<PathBuf> {
    let rest = url.strip_prefix("sqlite:")?;
    let path = rest.strip_prefix("//").unwrap_or(rest);
    Some(PathBuf::from(path.split('?').next().unwrap_or_default()))
}

/// The address of an SQLite file.
pub(super) fn sqlite_url(path: &Path) -> String {
    format!("sqlite:{}", path.display())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_without_a_name_goes_and_a_named_one_stays() {
        let folder = tempfile::tempdir().unwrap();
        let (part, name) = (folder.path().join("a.part"), folder.path().join("a"));
        let (unfinished, _) = Unfinished::new(part.clone()).unwrap();
        assert!(matches!(Unfinished::new(part.clone()), Err(BackupError::Exists(_))));
        drop(unfinished);
        assert!(!part.exists());
        Unfinished::new(part.clone()).unwrap().0.name(&name).unwrap();
        assert!(name.exists() && !part.exists());
        let again = Unfinished::new(part.clone()).unwrap().0.name(&name);
        assert!(matches!(again, Err(BackupError::Exists(_))) && !part.exists());
    }

    #[test]
    fn an_address_of_sqlite_names_its_file() {
        for url in ["sqlite:/var/a.sqlite", "sqlite:///var/a.sqlite", "sqlite:///var/a.sqlite?mode=rw"] {
            assert_eq!(sqlite_file(url).unwrap(), Path::new("/var/a.sqlite"), "{url}");
        }
        assert_eq!(sqlite_file("postgres://h/a"), None);
    }
}
