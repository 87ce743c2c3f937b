//! The page in a browser: on a telephone, on a desk, on paper.
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

use crate::brief::chromium::Chromium;
use crate::brief::kit;
use crate::build::kit::{sample, varrow as varrow_layer};
use crate::need;

/// A4 less the margins of the style sheet, CSS pixels of 1/96 inch: 186 by 271 mm.
const A4_PX: (u32, u32) = (703, 1024);
/// A4, points.
const A4_PT: (f64, f64) = (595.3, 841.9);

/// Everything that sticks out of a window as wide as asked for (a telephone's own window grows with what sticks out of it) or of its own box, and figures higher than a page.
const PROBE: &str = "(inner => {
  const wide = Math.max(document.scrollingElement.scrollWidth, Math.min(innerWidth, inner + 99)), out = [];
  for (const e of document.querySelectorAll('body *')) {
    if (e.closest('thead') || (e.closest('svg') && e.localName !== 'svg')) continue;
    const box = e.getBoundingClientRect();
    if (box.right > inner + 1 || box.left < -1) out.push(e.localName + ' ' + Math.round(box.right) + ' ' + e.textContent.slice(0, 40));
    if (e.className === 'wide' && e.scrollWidth > e.clientWidth + 1) out.push('scrolls: ' + e.textContent.slice(0, 40));
  }
  // Words of a picture that end outside of it.
  for (const t of document.querySelectorAll('svg text')) {
    const box = t.getBoundingClientRect(), own = t.closest('svg').getBoundingClientRect();
    if (box.right > own.right + 1 || box.left < own.left - 1 || box.bottom > own.bottom + 1) out.push('cut: ' + t.textContent);
  }
  const high = Math.max(0, ...[...document.querySelectorAll('figure')].map(f => f.getBoundingClientRect().height));
  return {wide, inner, out, high, figures: document.querySelectorAll('figure').length, text: document.body.innerText.length};
})";

fn probe(browser: &mut Chromium, width: u32) -> Value {
    browser.evaluate(&format!("{PROBE}({width})"))
}

fn shows_well(browser: &mut Chromium, page: &Path, size: (u32, u32), media: &str) -> Value {
    let address = browser.open(page, size, media);
    let seen = probe(browser, size.0);
    let wrong = format!("{} at {size:?} {media}: {seen}", page.display());
    assert!(seen["figures"].as_u64().unwrap() >= 2 && seen["text"].as_u64().unwrap() > 2_000, "{wrong}");
    assert!(seen["wide"].as_u64() <= seen["inner"].as_u64(), "{wrong}");
    assert_eq!(seen["out"].as_array().map(Vec::len), Some(0), "{wrong}");
    for event in &browser.events {
        let method = event["method"].as_str().unwrap_or_default();
        let complains = matches!(method, "Log.entryAdded" | "Runtime.consoleAPICalled" | "Runtime.exceptionThrown");
        assert!(!complains, "{event}");
        if method == "Network.requestWillBeSent" {
            assert_eq!(event["params"]["request"]["url"], address.as_str(), "only the page itself is read");
        }
    }
    seen
}

/// Words of a printed page that end outside of it; returns how many pages there are.
fn printed_well(browser: &mut Chromium, folder: &Path, name: &str) -> usize {
    let path = folder.join(name);
    std::fs::write(&path, browser.pdf()).unwrap();
    let out = Command::new("pdftotext").args(["-bbox"]).arg(&path).arg("-").output().unwrap();
    let text = String::from_utf8(out.stdout).unwrap();
    let figure = |tag: &str, key: &str| -> f64 {
        let at = tag.find(&format!("{key}=\"")).unwrap() + key.len() + 2;
        tag[at..].split('"').next().unwrap().parse().unwrap()
    };
    let (mut pages, mut words) = (0, 0);
    for line in text.lines().map(str::trim) {
        if line.starts_with("<page") {
            pages += 1;
            let size = (figure(line, "width"), figure(line, "height"));
            assert!((size.0 - A4_PT.0).abs() < 1.0 && (size.1 - A4_PT.1).abs() < 1.0, "{line}");
        } else if line.starts_with("<word") {
            words += 1;
            let inside = figure(line, "xMin") > 20.0
                && figure(line, "xMax") < A4_PT.0 - 20.0
                && figure(line, "yMin") > 20.0
                && figure(line, "yMax") < A4_PT.1 - 20.0;
            assert!(inside, "page {pages} of {name}: {line}");
        }
    }
    assert!(pages >= 2 && words > 300, "{name}: {pages} pages, {words} words");
    pages
}

/// Screens of a telephone, 390 by 844 pixels, that the longest day of a page takes.
fn screens(browser: &mut Chromium, page: &Path) -> f64 {
    browser.open(page, (390, 844), "screen");
    let high = "Math.max(...[...document.querySelectorAll('section.day')].map(d => d.getBoundingClientRect().height))";
    browser.evaluate(high).as_f64().unwrap() / 844.0
}

/// Returns how many pages it prints.
fn reads_well(browser: &mut Chromium, folder: &Path, page: &Path) -> usize {
    for size in [(320, 700), (390, 844), (768, 1024), (1280, 900)] {
        shows_well(browser, page, size, "screen");
    }
    let seen = shows_well(browser, page, A4_PX, "print");
    assert!(seen["high"].as_f64().unwrap() < f64::from(A4_PX.1), "a figure is higher than a page: {seen}");
    browser.call("Emulation.clearDeviceMetricsOverride", serde_json::json!({}));
    let name = page.with_extension("pdf");
    printed_well(browser, folder, name.file_name().unwrap().to_str().unwrap())
}

/// The demo's three days, through the command.
fn varrow(folder: &Path) -> PathBuf {
    let layer = varrow_layer(folder, 32);
    let page = folder.join("varrow.html");
    let out = Command::new(env!("CARGO_BIN_EXE_waymask"))
        .args(["plan".as_ref(), layer.as_os_str(), sample("varrow-circuit.gpx").as_os_str()])
        .args(["--zone=-01:00", "--meetings"])
        .arg(sample("varrow-meetings.ics"))
        .arg("-o")
        .arg(&page)
        .output()
        .unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    page
}

#[test]
fn browser_shows_and_prints_the_brief_whole() {
    let Some(_) = need::program("pdftotext", "poppler-utils") else { return };
    let Some(mut browser) = Chromium::start() else { return };
    let folder = tempfile::tempdir().unwrap();
    let hostile = folder.path().join("hostile.html");
    std::fs::write(&hostile, kit::hostile_page()).unwrap();
    reads_well(&mut browser, folder.path(), &hostile);
    let varrow = varrow(folder.path());
    let pages = reads_well(&mut browser, folder.path(), &varrow);
    // Three days on two pages each, then what the trip is based on and the cautions.
    assert!(pages <= 3 * 2 + 2, "{pages} pages");
    let screens = screens(&mut browser, &varrow);
    assert!(screens <= 8.0, "{screens} screens for a day");
}

#[test]
fn browser_probe_sees_what_sticks_out() {
    let Some(mut browser) = Chromium::start() else { return };
    let folder = tempfile::tempdir().unwrap();
    let page = folder.path().join("wide.html");
    std::fs::write(&page, "<meta name=viewport content='width=device-width'><body><p style='width:900px'>wide</p><script>console.error('x')</script></body>").unwrap();
    browser.open(&page, (360, 800), "screen");
    let seen = probe(&mut browser, 360);
    assert!(seen["wide"].as_u64() > Some(360), "{seen}");
    assert!(seen["out"].as_array().is_some_and(|o| !o.is_empty()), "{seen}");
    assert!(browser.events.iter().any(|e| e["method"] == "Runtime.consoleAPICalled"));
}
