//! Whether there is memory for work, before it begins that would run out of it.
use std::path::Path;

use crate::base::error::{Error, Result};

/// Refuses to begin what needs more memory than is free here. `what` is what needs it, `next` what to do.
///
/// # Errors
/// Less is free; there may be enough later.
pub(crate) fn check_free(what: &str, needed_bytes: u64, next: &str) -> Result<()> {
    match usable_bytes() {
        Some(usable) if usable < needed_bytes => {
            let mb = |bytes: u64| bytes as f64 / 1e6;
            let (needed, usable) = (mb(needed_bytes), mb(usable));
            let fact = format!("{what} is forecast to take {needed:.1} MB, {usable:.1} MB can be used here");
            Err(Error::again("memory", fact, next))
        }
        _ => Ok(()),
    }
}

/// What this process may hold at most, bytes: what it holds, and what is free; nothing where it cannot be told.
fn usable_bytes() -> Option<u64> {
    let read = |path: &Path| std::fs::read_to_string(path).ok();
    let machine = kib_of(&read(Path::new("/proc/meminfo"))?, "MemAvailable:")?;
    // The program itself is not counted: its pages are those of a file, which may come and go.
    let held = kib_of(&read(Path::new("/proc/self/status"))?, "RssAnon:")?;
    let groups = read(Path::new("/proc/self/cgroup")).unwrap_or_default();
    let of_group = free_in_group(Path::new("/sys/fs/cgroup"), &groups, read);
    Some(held + of_group.map_or(machine, |group| group.min(machine)))
}

/// The figure of a line such as `MemAvailable:  123 kB`, bytes.
fn kib_of(text: &str, name: &str) -> Option<u64> {
    let line = text.lines().find_map(|line| line.strip_prefix(name))?;
    Some(line.split_whitespace().next()?.parse::<u64>().ok()? * 1024)
}

/// What the group of the process may still take, bytes; nothing without a limit. Containers and jobs of a cluster are such groups
/// (`cgroups(7)`, versions 1 and 2); from inside, a container sees its own as the topmost.
fn free_in_group(home: &Path, groups: &str, read: impl Fn(&Path) -> Option<String>) -> Option<u64> {
    let file = |folder: &str, path: &str, name: &str| read(&home.join(folder).join(path.trim_matches('/')).join(name));
    let bytes = |text: String| text.trim().parse::<u64>().ok();
    let free = |folder: &str, path: &str, [most, now]: [&str; 2], of: &str| {
        let (most, now) = (bytes(file(folder, path, most)?)?, bytes(file(folder, path, now)?)?);
        // Files that were read stay in memory until something else needs it.
        let stat = file(folder, path, "memory.stat").unwrap_or_default();
        let named = |name: &str| {
            let line = stat.lines().find_map(|line| line.strip_prefix(of)?.strip_prefix(name)?.strip_prefix(' '));
            line.and_then(|figure| figure.trim().parse::<u64>().ok()).unwrap_or(0)
        };
        let unused = named("inactive_file") + named("active_file");
        Some(most.saturating_sub(now.saturating_sub(unused)))
    };
    let of_line = |line: &str| {
        let mut parts = line.splitn(3, ':').skip(1);
        let (kinds, path) = (parts.next()?, parts.next()?);
        // Any group above it may have a limit, too.
        let tried = |folder: &str, names: [&str; 2], of: &str| {
            let above = Path::new(path).ancestors().filter_map(Path::to_str);
            above.filter_map(|path| free(folder, path, names, of)).min()
        };
        if kinds.is_empty() {
            tried("", ["memory.max", "memory.current"], "")
        } else if kinds.split(',').any(|kind| kind == "memory") {
            tried("memory", ["memory.limit_in_bytes", "memory.usage_in_bytes"], "total_")
        } else {
            None
        }
    };
    groups.lines().filter_map(of_line).min()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_does_not_fit_is_refused_and_may_be_tried_again() {
        let Some(usable) = usable_bytes() else { return };
        check_free("rating", usable / 2, "wait").unwrap();
        let error = check_free("rating", u64::MAX / 2, "wait").unwrap_err();
        assert!(error.to_string().contains("rating is forecast to take") && error.exit_code() == 3, "{error}");
    }

    #[test]
    fn a_group_may_have_less_than_its_machine() {
        let files = |all: &'static [(&'static str, &'static str)]| {
            move |path: &Path| all.iter().find(|(p, _)| Path::new(p) == path).map(|(_, text)| (*text).to_owned())
        };
        let home = Path::new("/g");
        let second = files(&[
            ("/g/job/memory.max", "1000\n"),
            ("/g/job/memory.current", "700\n"),
            ("/g/job/memory.stat", "anon 500\ninactive_file 100\nactive_file 50\n"),
            ("/g/slice/memory.max", "300"),
            ("/g/slice/memory.current", "200"),
            ("/g/slice/step/memory.max", "max"),
            ("/g/slice/step/memory.current", "100"),
            ("/g/free/memory.max", "max\n"),
            ("/g/free/memory.current", "5\n"),
        ]);
        assert_eq!(free_in_group(home, "0::/job\n", second), Some(450));
        assert_eq!(free_in_group(home, "0::/free\n", second), None);
        assert_eq!(free_in_group(home, "0::/slice/step\n", second), Some(100));
        assert_eq!(free_in_group(home, "", second), None);
        // Version 1, from inside: the path is that of the outside.
        let first = files(&[
            ("/g/memory/memory.limit_in_bytes", "2000"),
            ("/g/memory/memory.usage_in_bytes", "1500"),
            ("/g/memory/memory.stat", "inactive_file 1\ntotal_inactive_file 100\n"),
        ]);
        assert_eq!(free_in_group(home, "5:cpu:/a\n4:memory:/far/away\n0::/\n", first), Some(600));
    }
}
