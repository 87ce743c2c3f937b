//! The tables of `src/physics/sky/roadside.md`: each is made anew and compared with what is printed there.
use std::path::Path;

/// Largest difference between a printed figure and a new one, in units of its last digit: drawn trees are the same
/// everywhere, the last bit of a sine is not.
const LAST_DIGITS: f64 = 1.5;

/// Numbers of a text with their decimals, and the text without them.
fn numbers(text: &str) -> (Vec<(f64, i32)>, String) {
    let (mut found, mut rest, mut word) = (Vec::new(), String::new(), String::new());
    for c in text.chars().chain([' ']) {
        if c.is_ascii_digit() || (c == '.' && !word.is_empty()) {
            word.push(c);
            continue;
        }
        if let Ok(value) = word.parse() {
            let decimals = word.split_once('.').map_or(0, |(_, d)| d.len() as i32);
            found.push((value, decimals));
            rest.push('#');
        }
        word.clear();
        rest.push(c);
    }
    (found, rest.split_whitespace().collect::<Vec<_>>().join(" "))
}

/// Whether a printed table says the same as a new one.
fn same(printed: &str, new: &str) -> bool {
    let ((old_numbers, old_words), (new_numbers, new_words)) = (numbers(printed), numbers(new));
    let near = |(old, new): (&(f64, i32), &(f64, i32))| (old.0 - new.0).abs() <= LAST_DIGITS * 0.1_f64.powi(old.1);
    old_words == new_words && old_numbers.len() == new_numbers.len() && old_numbers.iter().zip(&new_numbers).all(near)
}

/// The rows of a table as markdown; the first is its head.
pub fn table(rows: &[Vec<String>]) -> String {
    let line = |cells: &[String]| format!("| {} |\n", cells.join(" | "));
    let rule = vec!["---".to_owned(); rows[0].len()];
    [&rows[0], &rule].into_iter().chain(&rows[1..]).map(|r| line(r)).collect()
}

/// Fails where the page does not show a table under its name as it is now; prints it, to be put there.
pub fn assert_shown(name: &str, rows: &[Vec<String>]) {
    let new = table(rows);
    let page =
        std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("src/physics/sky/roadside.md")).unwrap();
    let (from, to) = (format!("<!-- {name} -->"), format!("<!-- end of {name} -->"));
    let shown = page.split_once(&from).and_then(|(_, rest)| rest.split_once(&to)).map(|(t, _)| t);
    println!("{from}\n\n{new}\n{to}");
    assert!(
        shown.is_some_and(|shown| same(shown, &new)),
        "src/physics/sky/roadside.md does not show this table:\n{new}"
    );
}

#[test]
fn another_figure_or_word_is_noticed() {
    let row = |share: &str| table(&[vec!["at".into(), "share".into()], vec!["25".into(), share.into()]]);
    assert!(same(&row("61.2"), &row("61.3")));
    assert!(!same(&row("61.2"), &row("61.4")) && !same(&row("61"), &row("58")));
    assert!(!same(&row("61 %"), &row("61 m")) && !same(&row("61/52"), &row("61")));
}
