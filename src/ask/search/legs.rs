//! "A to B" in its places.

/// The places of a text in the order driven: `A to B to C`, or with `;` between them for names that hold the word "to". One
/// place alone comes back as it is.
pub fn legs(text: &str) -> Vec<&str> {
    let by_sign = by_semicolons(text);
    if by_sign.len() > 1 {
        return by_sign;
    }
    let mut places = Vec::new();
    let mut rest = text;
    while let Some(at) = next_to(rest) {
        places.push(rest[..at].trim());
        rest = &rest[at + 4..];
    }
    places.push(rest.trim());
    places
}

/// Where ` to ` stands, in any letters.
fn next_to(text: &str) -> Option<usize> {
    let is_to =
        |w: &[u8]| w[0].is_ascii_whitespace() && w[1..3].eq_ignore_ascii_case(b"to") && w[3].is_ascii_whitespace();
    text.as_bytes().windows(4).position(is_to)
}

/// Parts between semicolons; those that begin a parameter of `geo:` part nothing.
fn by_semicolons(text: &str) -> Vec<&str> {
    let mut places = Vec::new();
    let mut begin = 0;
    for (at, _) in text.match_indices(';') {
        let after = text[at + 1..].trim_start();
        let name = after.bytes().take_while(|b| b.is_ascii_alphanumeric() || *b == b'-').count();
        let is_parameter = name > 0 && after.as_bytes().get(name) == Some(&b'=');
        if !is_parameter {
            places.push(text[begin..at].trim());
            begin = at + 1;
        }
    }
    places.push(text[begin..].trim());
    places
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_are_parted_by_to_or_by_semicolons() {
        assert_eq!(legs("Wether Harbour to Shingle Strand"), ["Wether Harbour", "Shingle Strand"]);
        assert_eq!(legs(" a  TO  b\tto\n42.5,1.5 "), ["a", "b", "42.5,1.5"]);
        assert_eq!(legs("Torquay"), ["Torquay"]);
        assert_eq!(legs("Road to Nowhere; Ordino"), ["Road to Nowhere", "Ordino"]);
        assert_eq!(legs("geo:42.5,1.5;u=10 to Ordino"), ["geo:42.5,1.5;u=10", "Ordino"]);
        assert_eq!(legs("geo:42.5,1.5;u=10; Ordino"), ["geo:42.5,1.5;u=10", "Ordino"]);
        assert_eq!(legs("a to "), ["a", ""], "a place is missing");
        assert_eq!(legs("a to  to b"), ["a", "", "b"]);
        assert_eq!(legs(""), [""]);
    }
}
