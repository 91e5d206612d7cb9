//! Why something of the system failed, in plain words: its own are for programmers, and other ones on each system.

use std::io::{Error, ErrorKind};

/// The reason, to stand behind a path and a colon. What this program found itself it says already.
pub fn why(error: &Error) -> String {
    if error.raw_os_error().is_none() {
        return error.to_string();
    }
    let told = match error.kind() {
        ErrorKind::NotFound => "isn't there",
        ErrorKind::AlreadyExists => "is there already",
        ErrorKind::NotADirectory => "is a file, or lies in one, where a folder is needed",
        _ => {
            let told = error.to_string();
            return told.split(" (os error").next().unwrap_or_default().into();
        }
    };
    told.into()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    #[test]
    fn what_the_system_says_is_told_in_plain_words() {
        let folder = tempfile::tempdir().unwrap();
        let read = |path: &Path| why(&std::fs::read(path).unwrap_err());
        assert_eq!(read(&folder.path().join("none")), "isn't there");
        assert!(!read(folder.path()).contains("os error"));
        assert_eq!(
            why(&Error::new(ErrorKind::NotFound, "is a link, not a regular file")),
            "is a link, not a regular file"
        );
    }
}
