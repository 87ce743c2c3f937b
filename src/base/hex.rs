//! Bytes as text.

/// Two lower-case hexadecimal digits a byte.
pub(crate) fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_byte_has_two_digits() {
        assert_eq!(hexadecimal(&[0, 9, 16, 255]), "0009 10ff".replace(' ', ""));
    }
}
