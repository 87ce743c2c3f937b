//! Chromium, driven over its own debugging protocol: JSON over two pipes, every message ended by a zero byte.
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};

use serde_json::{Value, json};

use crate::need;

/// A browser with one page.
pub struct Chromium {
    child: Child,
    to: ChildStdin,
    from: BufReader<ChildStdout>,
    next_id: u64,
    session: Option<String>,
    /// What the browser told unasked since the page was opened.
    pub events: Vec<Value>,
    _profile: tempfile::TempDir,
}

impl Chromium {
    /// Starts the browser, where there is one.
    pub fn start() -> Option<Self> {
        let program = need::program("chromium", "chromium")?;
        let profile = tempfile::tempdir().unwrap();
        // The browser reads commands from descriptor 3 and answers on 4: the shell puts our two pipes there.
        let mut child = Command::new("sh")
            .args(["-c", "exec \"$0\" \"$@\" 3<&0 4>&1 </dev/null >/dev/null 2>&1", program])
            .args(["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"])
            .args(["--disable-background-networking", "--disable-component-update", "--disable-sync"])
            .arg(format!("--user-data-dir={}", profile.path().display()))
            .arg("--remote-debugging-pipe")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let (to, from) = (child.stdin.take().unwrap(), BufReader::new(child.stdout.take().unwrap()));
        let mut browser = Self { child, to, from, next_id: 0, session: None, events: Vec::new(), _profile: profile };
        let target = browser.call("Target.createTarget", json!({"url": "about:blank"}));
        let session = browser.call("Target.attachToTarget", json!({"targetId": target["targetId"], "flatten": true}));
        browser.session = session["sessionId"].as_str().map(str::to_owned);
        for domain in ["Page", "Log", "Runtime", "Network"] {
            browser.call(&format!("{domain}.enable"), json!({}));
        }
        Some(browser)
    }
    /// Runs a command of the protocol.
    pub fn call(&mut self, method: &str, params: Value) -> Value {
        self.next_id += 1;
        let id = self.next_id;
        let mut message = json!({"id": id, "method": method, "params": params});
        if let Some(session) = &self.session {
            message["sessionId"] = session.clone().into();
        }
        self.to.write_all(message.to_string().as_bytes()).unwrap();
        self.to.write_all(&[0]).unwrap();
        self.to.flush().unwrap();
        loop {
            let answer = self.read();
            if answer["id"] == id {
                assert!(answer["error"].is_null(), "{method}: {answer}");
                return answer["result"].clone();
            }
            self.events.push(answer);
        }
    }
    fn read(&mut self) -> Value {
        let mut bytes = Vec::new();
        self.from.read_until(0, &mut bytes).unwrap();
        assert_eq!(bytes.pop(), Some(0), "the browser went away");
        serde_json::from_slice(&bytes).unwrap()
    }
    /// Shows a file in a window of a size, pixels, and waits until it is there; returns its address.
    pub fn open(&mut self, page: &Path, (width, height): (u32, u32), media: &str) -> String {
        self.events.clear();
        let metrics = json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600});
        self.call("Emulation.setDeviceMetricsOverride", metrics);
        self.call("Emulation.setEmulatedMedia", json!({"media": media}));
        let address = format!("file://{}", page.display());
        self.call("Page.navigate", json!({"url": address}));
        while !self.events.iter().any(|e| e["method"] == "Page.loadEventFired") {
            let event = self.read();
            self.events.push(event);
        }
        address
    }
    /// The value of an expression in the page.
    pub fn evaluate(&mut self, expression: &str) -> Value {
        let answer = self.call("Runtime.evaluate", json!({"expression": expression, "returnByValue": true}));
        assert!(answer["exceptionDetails"].is_null(), "{answer}");
        answer["result"]["value"].clone()
    }
    /// The page printed as its style says.
    pub fn pdf(&mut self) -> Vec<u8> {
        let printed = self.call("Page.printToPDF", json!({"preferCSSPageSize": true, "printBackground": false}));
        decoded(printed["data"].as_str().unwrap())
    }
}

impl Drop for Chromium {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Base64 (RFC 4648, section 4).
fn decoded(text: &str) -> Vec<u8> {
    const SIGNS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let (mut out, mut bits, mut held) = (Vec::with_capacity(text.len() / 4 * 3), 0_u32, 0);
    for six in text.bytes().filter_map(|b| SIGNS.iter().position(|s| *s == b)) {
        bits = bits << 6 | six as u32;
        held += 6;
        if held >= 8 {
            held -= 8;
            out.push((bits >> held & 0xff) as u8);
        }
    }
    out
}

#[test]
fn base64_is_read_as_rfc_4648_writes_it() {
    // Section 10 of the RFC.
    for (text, want) in [("Zg==", "f"), ("Zm8=", "fo"), ("Zm9v", "foo"), ("Zm9vYmFy", "foobar")] {
        assert_eq!(decoded(text), want.as_bytes());
    }
}
