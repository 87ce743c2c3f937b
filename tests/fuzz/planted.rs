//! Faults that are known: a fuzzer that does not find them finds nothing.
use std::time::Duration;

use waymask::base::foreign::foreign;

use crate::target::{Reader, Target};
use crate::watch::worked;

fn seeds() -> Vec<Vec<u8>> {
    vec![b"lanes=2 width=3.5".to_vec()]
}

fn of(read: fn(&[u8])) -> Reader {
    Box::new(move |input| {
        read(input);
        String::new()
    })
}

/// Targets with a fault, and the kind of find that it is.
pub const PLANTED: &[(Target, &str)] = &[
    (Target::new("planted_panic", seeds, |_| of(|input| assert!(!input.contains(&b'!'), "planted"))), "panic"),
    (
        Target::new("planted_caught", seeds, |_| {
            of(|input| drop(foreign("planted", || assert!(!input.contains(&b'!'), "planted"))))
        }),
        "caught",
    ),
    (
        // An index of ours beyond the end, which the standard library tells of.
        Target::new("planted_index", seeds, |_| of(|input| assert!(input[usize::from(input.len() < 9) * 9] < 255))),
        "panic",
    ),
    (
        Target::new("planted_memory", seeds, |_| {
            of(|input| drop(std::hint::black_box(vec![1_u8; if input.contains(&b'!') { 65 << 20 } else { 1 }])))
        }),
        "memory",
    ),
    (
        Target::new("planted_huge", seeds, |_| {
            of(|input| {
                drop(std::hint::black_box(Vec::<u8>::with_capacity(if input.contains(&b'!') { 1 << 45 } else { 1 })))
            })
        }),
        "died",
    ),
    (
        Target::new("planted_slow", seeds, |_| {
            of(|input| {
                let begun = worked();
                while input.contains(&b'!') && worked() - begun < Duration::from_millis(2_200) {}
            })
        }),
        "slow",
    ),
    (
        Target::new("planted_endless", seeds, |_| of(|input| while std::hint::black_box(input).contains(&b'!') {})),
        "endless",
    ),
    (Target::new("planted_stack", seeds, |_| of(|input| assert!(deep(u64::from(input.contains(&b'!'))) == 0))), "died"),
    // A wrong inverse: decimals are lost.
    (
        Target::new("planted_inverse", seeds, |_| {
            of(|input| {
                let text = String::from_utf8_lossy(input);
                if let Some(width) =
                    text.rsplit('=').next().and_then(|w| w.parse::<f32>().ok()).filter(|w| w.is_finite())
                {
                    let back: f32 = format!("{width:.1}").parse().unwrap_or(f32::NAN);
                    assert!(back == width, "{width} came back as {back}");
                }
            })
        }),
        "panic",
    ),
    // Not a fault of ours: a panic of another crate at the border is an error, which is counted.
    (
        Target::new("planted_foreign", seeds, |_| {
            of(|_| drop(foreign("planted", || serde_json::json!(1)["no object"] = serde_json::json!(2))))
        }),
        "",
    ),
];

/// Without end, where it begins at 1.
fn deep(depth: u64) -> u64 {
    if depth == 0 { 0 } else { deep(std::hint::black_box(depth + 1)) + std::hint::black_box(1) }
}
