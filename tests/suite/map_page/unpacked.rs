//! What a page holds, unpacked by plain loops after the words of its format.
use std::io::Read;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde_json::Value;

/// JSON and lines of a page.
pub struct Unpacked {
    pub json: Value,
    bytes: Vec<u8>,
    at: usize,
    last: (i64, i64),
}

impl Unpacked {
    pub fn of(page: &str) -> Self {
        let (_, after) = page.split_once("<script type=\"text/plain\" id=\"data\">").unwrap();
        let text = after.split_once("</script>").unwrap().0;
        let mut bytes = Vec::new();
        flate2::read::DeflateDecoder::new(&STANDARD.decode(text).unwrap()[..]).read_to_end(&mut bytes).unwrap();
        let length = u32::from_le_bytes(bytes[..4].try_into().unwrap()) as usize;
        let json = serde_json::from_slice(&bytes[4..4 + length]).unwrap();
        Self { json, bytes: bytes[4 + length..].to_vec(), at: 0, last: (0, 0) }
    }
    /// Whether all bytes were read.
    pub fn done(&self) -> bool {
        self.at == self.bytes.len()
    }
    fn number(&mut self) -> u64 {
        let (mut value, mut shift) = (0, 0);
        loop {
            let byte = self.bytes[self.at];
            self.at += 1;
            value |= u64::from(byte & 0x7F) << shift;
            if byte < 0x80 {
                return value;
            }
            shift += 7;
        }
    }
    fn step(&mut self) -> i64 {
        let number = self.number() as i64;
        if number % 2 == 0 { number / 2 } else { -(number + 1) / 2 }
    }
    /// The next line, longitudes and latitudes in degrees.
    pub fn line(&mut self) -> Vec<(f64, f64)> {
        let count = self.number();
        let mut line = Vec::new();
        for _ in 0..count {
            self.last.0 += self.step();
            self.last.1 += self.step();
            line.push((self.last.0 as f64 / 1e5, self.last.1 as f64 / 1e5));
        }
        line
    }
    pub fn texts(&self) -> Vec<String> {
        self.json["strings"].as_array().unwrap().iter().map(|s| s.as_str().unwrap().to_owned()).collect()
    }
}
