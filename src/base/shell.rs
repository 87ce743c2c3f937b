//! Words for a shell: commands that messages advise are pasted as they stand.
use std::path::Path;

/// A path as one word of a POSIX shell, in single quotes; a quote in it is closed, escaped and opened again.
pub(crate) fn quoted(path: &Path) -> String {
    format!("'{}'", path.display().to_string().replace('\'', r"'\''"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::process::Command;

    #[test]
    fn a_shell_reads_back_the_path_it_was_given() {
        for name in ["plain", "no'such'place", "'", "a b; $HOME `x` \"y\" \\"] {
            let command = format!("printf %s {}", quoted(Path::new(name)));
            let out = Command::new("sh").arg("-c").arg(&command).output().unwrap();
            assert_eq!(String::from_utf8_lossy(&out.stdout), name, "{command}");
        }
        assert_eq!(quoted(Path::new("no'such")), r"'no'\''such'");
    }
}
