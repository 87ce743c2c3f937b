//! Proof that each rule can fail: a small house with one thing wrong, in every way a use can be spelled.
use std::collections::BTreeSet;

use crate::house::{House, Module};
use crate::{astray, named_twice, outside_broken, rooms_broken, too_long};

fn module(path: &str) -> Module {
    path.split('/').filter(|p| !p.is_empty()).map(str::to_string).collect()
}

/// A house of rooms `base`, `map` and `physics` with these files on top.
fn house(files: &[(&str, &str)]) -> House {
    let always = [
        ("", "pub mod base; pub mod map; pub mod physics; pub use base::error::Error;"),
        ("base", "pub mod error;"),
        ("base/error", "pub struct Error;"),
        ("map", "pub mod network;"),
        ("map/network", "pub mod cut;"),
        ("map/network/cut", "pub fn cut() {}"),
        ("physics", "pub mod sky;"),
        ("physics/sky", "pub mod mask;"),
        ("physics/sky/mask", "pub fn mask() {}"),
    ];
    let outside = ["std", "core", "alloc", "gdal", "rayon"].map(String::from);
    let all = always.iter().chain(files).map(|(path, text)| (module(path), *text));
    House::of(all, &BTreeSet::from(outside))
}

/// Paths out of their room that a text in `map/network` uses, and those into the outside.
fn caught(text: &str) -> Vec<String> {
    let house = house(&[("map/network/cut", text)]);
    rooms_broken(&house).into_iter().chain(outside_broken(&house)).map(|(_, path)| path).collect()
}

#[test]
fn a_use_of_a_higher_room_is_caught_in_every_spelling() {
    let spelled = [
        ("use crate::physics::sky::mask::mask;", "crate::physics::sky::mask::mask"),
        ("use crate::{base::error, physics};", "crate::physics"),
        ("use crate::{base, physics::{self, sky::{mask, mask::mask as m}}};", "crate::physics"),
        ("use crate::physics::{self, sky::{mask::{mask}}};", "crate::physics::sky::mask::mask"),
        ("use super::super::super::physics::sky;", "crate::physics::sky"),
        ("use super::super::super::{base, physics::sky};", "crate::physics::sky"),
        ("use self::super::super::super::physics;", "crate::physics"),
        ("use crate::physics::sky as heaven; fn f() { heaven::mask::mask() }", "crate::physics::sky::mask::mask"),
        ("use crate as house; fn f() { house::physics::sky::mask::mask() }", "crate::physics::sky::mask::mask"),
        ("use super::super::super as up; fn f() { up::physics::sky::mask::mask() }", "crate::physics::sky::mask::mask"),
        ("use crate::{self as house}; fn f() { house::physics::g() }", "crate::physics::g"),
        ("pub use crate::physics::sky::mask;", "crate::physics::sky::mask"),
        ("pub(crate) use crate::{physics as p};", "crate::physics"),
        ("use crate::physics::sky::*;", "crate::physics::sky::*"),
        ("use crate::*;", "crate::*"),
        ("use super::super::super::*;", "crate::*"),
        ("fn f() { crate::physics::sky::mask::mask() }", "crate::physics::sky::mask::mask"),
        ("fn f() { super::super::super::physics::sky::mask::mask() }", "crate::physics::sky::mask::mask"),
        ("fn f(x: &crate::physics::sky::X) {}", "crate::physics::sky::X"),
        ("fn f() { let g: Vec<crate::physics::X> = Vec::new(); }", "crate::physics::X"),
        ("impl crate::physics::T for u8 {}", "crate::physics::T"),
        ("fn f() { match 1 { crate::physics::ONE => {} _ => {} } }", "crate::physics::ONE"),
        ("fn f() { use crate::physics::sky; sky::mask::mask() }", "crate::physics::sky"),
        ("mod inner { use super::super::super::super::physics; }", "crate::physics"),
        ("fn f() { format!(\"{}\", crate::physics::sky::mask::mask()); }", "crate::physics::sky::mask::mask"),
        ("fn f() { vec![[crate::physics::g(); 2]; 3]; }", "crate::physics::g"),
        ("#[derive(crate::physics::D)] struct S;", "crate::physics::D"),
        ("use r#crate_not_a_keyword as x; use crate::r#physics;", "crate::physics"),
    ];
    for (text, path) in spelled {
        assert!(caught(text).contains(&path.to_string()), "`{text}` gave {:?}", caught(text));
    }
}

#[test]
fn what_a_room_may_use_is_not_caught() {
    let fine = [
        "use crate::base::error::Error;",
        "use crate::{Error, base};",
        "use crate::Error as E; fn f() -> E { E }",
        "use super::super::network;",
        "// use crate::physics::sky;",
        "/// See [`crate::physics::sky`].\nfn f() {}",
        "fn f() { let s = \"crate::physics::sky\"; }",
        "#[cfg(test)] mod tests { use crate::physics::sky; fn f() { println!() } }",
        "#[cfg(test)] use crate::physics::sky;",
        "struct S; impl S { #[cfg(test)] fn f() { crate::physics::g() } }",
        "struct GdalRaster; fn physics() { physics() }",
        "pub(in crate::map) fn f() {}",
        "use std::collections::BTreeMap; use rayon::prelude::*;",
    ];
    for text in fine {
        assert!(caught(text).is_empty(), "`{text}` gave {:?}", caught(text));
    }
}

#[test]
fn outside_crates_and_macros_are_caught_in_every_spelling() {
    let spelled = [
        ("use gdal::Dataset;", "gdal::Dataset"),
        ("use ::gdal::Dataset as D;", "gdal::Dataset"),
        ("use {gdal::Dataset, rayon::prelude};", "gdal::Dataset"),
        ("extern crate gdal as g; fn f() { g::version() }", "gdal::version"),
        ("fn f() { gdal::version() }", "gdal::version"),
        ("use std::{collections::BTreeMap, time::Instant};", "std::time::Instant"),
        ("use std::thread as t; fn f() { t::spawn(g) }", "std::thread::spawn"),
        ("use std as s; fn f() { s::net::x() }", "std::net::x"),
        ("use std::*;", "std::*"),
        ("use core::time::Duration;", "core::time::Duration"),
        ("fn f() { let t = std::time::Instant::now(); }", "std::time::Instant::now"),
        ("fn f() { assert!(std::time::Instant::now() > t); }", "std::time::Instant::now"),
        ("fn f() { println!(\"x\") }", "println!"),
        ("fn f() { std::println!(\"x\") }", "println!"),
        ("fn f() { if_so!(true, { eprintln!(\"x\") }) }", "eprintln!"),
        ("fn f() { dbg!(1); }", "dbg!"),
    ];
    for (text, path) in spelled {
        assert!(caught(text).contains(&path.to_string()), "`{text}` gave {:?}", caught(text));
    }
}

#[test]
fn circles_are_found_at_any_length_and_depth() {
    let circles = |files: &[(&str, &str)]| house(files).circles().into_iter().collect::<Vec<_>>();
    assert!(circles(&[]).is_empty());
    let two = [("map/a", "use super::b::f;"), ("map/b", "fn g() { crate::map::a::f() }")];
    assert_eq!(circles(&two), ["map: a, b"]);
    let three = [("map/a", "use super::{b};"), ("map/b", "use super::c as d;"), ("map/c", "pub use crate::map::a::*;")];
    assert_eq!(circles(&three), ["map: a, b, c"]);
    let by_folder = [
        ("map/a", "mod deep;"),
        ("map/a/deep", "use crate::map::network::cut::cut;"),
        ("map/network/cut", "use super::super::a::deep::f;"),
    ];
    assert_eq!(circles(&by_folder), ["map: a, network"]);
    assert_eq!(circles(&[("map/network/cut", "use super::Road;")]), ["map/network: cut, mod.rs"]);
    assert_eq!(circles(&[("map/network/cut", "use crate::map::network::*;")]), ["map/network: cut, mod.rs"]);
    assert_eq!(circles(&[("map/network/cut", "fn f() { crate::map::g() }")]), ["map: network, mod.rs"]);
    let rooms = [("base/error", "use crate::map::X;"), ("map/network", "use crate::Error;")];
    assert_eq!(circles(&rooms), [": base, map"]);
}

#[test]
fn long_files_and_names_used_twice_are_found() {
    assert_eq!(too_long([("a".to_string(), "1\n2\n3\n")].into_iter(), 2), ["a: 3 lines"]);
    assert!(too_long([("a".to_string(), "1\n2\n")].into_iter(), 2).is_empty());
    let twice = house(&[
        ("map/a", "struct Found; mod inner { pub enum Only {} }"),
        ("map/b", "fn f() { type Found = u8; } #[cfg(test)] struct Only;"),
        ("map/c", "impl Iterator for X { type Item = u8; } trait Item {}"),
    ]);
    let names: Vec<_> = named_twice(&twice).into_iter().collect();
    assert_eq!(names, [("Found".to_string(), vec!["map/a".to_string(), "map/b".to_string()])]);
}

#[test]
fn printing_and_reading_astray_are_caught_however_they_are_spelled() {
    for text in [
        "fn f() { let _ = std::io::stdout(); }",
        "use std::io; fn f() { let _ = io::stderr().lock(); }",
        "use std::io::{self, stderr}; fn f() { let _ = stderr(); }",
        "use std::io::*;",
        "fn f() { let _ = std::fs::read(\"x\"); }",
        "use std::fs; fn f() { let _ = fs::read_to_string(\"x\"); }",
    ] {
        assert_eq!(astray(&house(&[("map/network/cut", text)])).len(), 1, "{text}");
    }
    let own = house(&[("cli/terminal", "fn f() { let _ = std::io::stdout(); }")]);
    assert!(astray(&own).is_empty());
}
