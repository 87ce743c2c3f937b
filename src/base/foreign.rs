//! The border to parsers of other people: one that breaks off is an error of its input, not the end of the program.
//!
//! Every outside parser that is fed with text or bytes from outside is called through [`foreign`].
use std::cell::RefCell;
use std::fmt;
use std::panic::{AssertUnwindSafe, PanicHookInfo, catch_unwind};
use std::sync::Once;

#[cfg(not(panic = "unwind"))]
compile_error!("panics of outside parsers are caught: build with panic = \"unwind\"");

/// A parser of other people that broke off.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BrokeOff {
    what: &'static str,
    why: String,
}

impl fmt::Display for BrokeOff {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "cannot be understood: the reader of {} failed ({})", self.what, self.why)
    }
}

/// What this thread is doing.
#[derive(Default)]
struct Inside {
    /// Calls of [`foreign`] that have not come back.
    depth: usize,
    /// What the last panic among them said, and where.
    said: Option<String>,
}

thread_local!(static INSIDE: RefCell<Inside> = RefCell::default());

/// Calls an outside parser; a panic in it becomes an error, and its backtrace stays off the terminal.
///
/// # Errors
/// The parser panicked.
pub fn foreign<T>(what: &'static str, read: impl FnOnce() -> T) -> Result<T, BrokeOff> {
    be_quiet_inside();
    INSIDE.with_borrow_mut(|inside| inside.depth += 1);
    // Whatever the parser had begun is dropped with it: nothing half-made is looked at afterwards.
    let read = catch_unwind(AssertUnwindSafe(read));
    let said = INSIDE.with_borrow_mut(|inside| {
        inside.depth -= 1;
        inside.said.take()
    });
    read.map_err(|_| BrokeOff { what, why: said.unwrap_or_else(|| "no reason given".to_owned()) })
}

/// Panics inside [`foreign`] are kept for its error; all others are shown as before.
fn be_quiet_inside() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| {
            let kept = INSIDE.try_with(|inside| match inside.try_borrow_mut() {
                Ok(mut inside) if inside.depth > 0 => {
                    inside.said = Some(reason(info));
                    true
                }
                _ => false,
            });
            if kept != Ok(true) {
                before(info);
            }
        }));
    });
}

/// What a panic says and where: the name of the file without its folders, which are those of another machine.
fn reason(info: &PanicHookInfo<'_>) -> String {
    let payload = info.payload();
    let said = payload.downcast_ref::<&str>().copied().or_else(|| payload.downcast_ref::<String>().map(String::as_str));
    let said: String = said.unwrap_or("no reason given").chars().take(200).collect();
    match info.location() {
        Some(at) => format!("{said}; {}:{}", at.file().rsplit(['/', '\\']).next().unwrap_or_default(), at.line()),
        None => said,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_inside_is_an_error_and_what_follows_goes_on() {
        let broken = foreign("recurrence rules", || -> u8 { panic!("byte index {} is not a char boundary", 7) });
        let said = broken.unwrap_err().to_string();
        assert!(said.contains("the reader of recurrence rules failed (byte index 7"), "{said}");
        assert!(said.contains("foreign.rs:") && !said.contains('/'), "{said}");
        assert_eq!(foreign("rules", || 7), Ok(7));
        // One inside another: the outer one goes on.
        let outer = foreign("calendars", || foreign("rules", || -> u8 { panic!("inner") }).is_err());
        assert_eq!(outer, Ok(true));
        assert_eq!(INSIDE.with_borrow(|inside| inside.depth), 0);
    }
}
