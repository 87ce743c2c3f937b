//! The table of keys agrees with the structs.
use super::Profile;
use super::keys::*;
use crate::base::settings::{Holds, as_table, value_at};
use crate::profile::source;

#[test]
fn likely_values_are_allowed_and_lie_around_the_default() {
    let default = as_table(&Profile::default()).unwrap();
    for key in VALUES.iter() {
        let (Some((low, high)), Holds::Number { from, to }) = (key.likely, key.holds) else {
            assert!(key.likely.is_none(), "{}", key.path);
            continue;
        };
        let value = value_at(&default, key.path).unwrap().as_float().unwrap();
        assert!(from <= low && low <= value && value <= high && high <= to && low < high, "{}", key.path);
    }
    assert_eq!(VALUES.iter().filter(|k| k.likely.is_some()).count(), 53);
}

#[test]
fn every_word_is_one_of_the_struct() {
    for key in VALUES.iter() {
        if let Holds::Word(words) = key.holds {
            for word in words {
                source::with_values(&Profile::default(), &[format!("{}={word}", key.path)]).unwrap();
            }
        }
    }
}

#[test]
fn rating_edges_must_rise() {
    for (text, line) in [
        ("[rating]\nsteady_outage_s = 10.0\n", "line 2: rating.steady_outage_s"),
        ("[rating]\n\nblips_outage_share = 0.6\n", "line 3: rating.blips_outage_share"),
    ] {
        let error = source::parse(text, "p.toml").unwrap_err();
        let said = error.to_string();
        assert!(error.exit_code() == 2 && said.contains("rise") && said.contains(line), "{said}");
    }
}
