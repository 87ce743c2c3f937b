//! Bytes to text. Tracks are UTF-8; GPX of older programs often is ISO-8859-1 or windows-1252, declared or not.
/// Letters in which an XML declaration is looked for.
const DECLARED_WITHIN: usize = 200;

/// Labels under which one byte is one letter and ASCII stays ASCII, as the encodings of western Europe have it.
const ONE_BYTE: [&str; 9] =
    ["iso-8859-1", "iso8859-1", "iso_8859-1", "latin1", "latin-1", "iso-8859-15", "windows-1252", "cp1252", "us-ascii"];

/// The text, and what is to be said of its encoding.
///
/// Positions and times are ASCII, and nothing else is taken from a track: so what windows-1252 has instead of the control
/// letters of ISO-8859-1 need not be told apart.
pub(super) fn decoded(bytes: Vec<u8>) -> Result<(String, Option<String>), String> {
    let error = match String::from_utf8(bytes) {
        Ok(text) => return Ok((text, None)),
        Err(error) => error,
    };
    let (at, bytes) = (error.utf8_error().valid_up_to(), error.into_bytes());
    if !bytes.trim_ascii_start().starts_with(b"<") {
        return Err(format!("is not UTF-8 text (byte {})", at + 1));
    }
    let note = match declared(&bytes) {
        Some(label) if ONE_BYTE.contains(&label.as_str()) => None,
        Some(label) if label != "utf-8" && label != "utf8" => {
            return Err(format!("is encoded as `{label}`, which cannot be read: save it as UTF-8"));
        }
        _ => Some(format!("the track is not UTF-8 (byte {}) and was read as ISO-8859-1", at + 1)),
    };
    Ok((bytes.into_iter().map(char::from).collect(), note))
}

/// The encoding that an XML declaration names, in small letters.
fn declared(bytes: &[u8]) -> Option<String> {
    let head = String::from_utf8_lossy(&bytes[..bytes.len().min(DECLARED_WITHIN)]).to_ascii_lowercase();
    let declaration = head.trim_start().strip_prefix("<?xml")?.split_once("?>")?.0;
    let value = declaration.split_once("encoding")?.1.trim_start().strip_prefix('=')?.trim_start();
    let quote = value.chars().next().filter(|c| matches!(c, '"' | '\''))?;
    value[1..].split_once(quote).map(|v| v.0.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(start: &str) -> Result<(String, Option<String>), String> {
        decoded([start.as_bytes(), b"<name>Caf\xe9</name>"].concat())
    }

    #[test]
    fn latin_letters_are_read_where_xml_declares_them_or_is_no_utf_8() {
        for label in ["ISO-8859-1", "windows-1252", "latin1"] {
            for quote in ['"', '\''] {
                let (text, note) = of(&format!("<?xml version='1.0' encoding={quote}{label}{quote}?>")).unwrap();
                assert!(text.ends_with("<name>Caf\u{e9}</name>") && note.is_none(), "{text}");
            }
        }
        for start in ["", "<?xml version='1.0'?>", "<?xml version='1.0' encoding='UTF-8'?>"] {
            let (text, note) = of(start).unwrap();
            assert!(text.contains("Caf\u{e9}") && note.unwrap().contains("ISO-8859-1"), "{start}");
        }
        assert_eq!(decoded("<é".into()), Ok(("<é".to_owned(), None)));
        assert!(of("<?xml encoding='shift_jis'?>").unwrap_err().contains("`shift_jis`"));
        assert_eq!(decoded(b"42.5,1.5 \xff".to_vec()), Err("is not UTF-8 text (byte 10)".to_owned()));
    }
}
