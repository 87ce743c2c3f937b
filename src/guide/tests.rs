//! Pages that cannot go stale: tables and columns are those of the schema, files and topics named are there.
use std::collections::BTreeSet;
use std::path::Path;

use super::{Page, decisions, find, pages};
use crate::base::caution::Caution;
use crate::base::words::{
    BlockerEvidence, Cause, Evidence, Rating, RoadAccess, StopAccess, TerrainEvidence, ValueFrom, Words,
};
use crate::layer::SCHEMA_VERSION;
use crate::layer::model::BuildRecord;
use crate::layer::schema::TABLES;

/// The rows of the Markdown tables of a text, as their cells without backticks.
fn rows(text: &str) -> Vec<Vec<String>> {
    let cells = |line: &str| line.trim_matches('|').split('|').map(|c| c.trim().to_owned()).collect::<Vec<_>>();
    let lines = text.lines().filter(|l| l.starts_with('|')).map(cells);
    lines.filter(|c| !c[0].starts_with("---") && !["column", "key", "word", "page"].contains(&c[0].as_str())).collect()
}

fn bare(cell: &str) -> String {
    cell.trim_matches('`').to_owned()
}

/// The part of the page of columns that tells of a table.
fn section(table: &str) -> Option<&'static str> {
    let text = find("layer").unwrap().text;
    let (_, rest) = text.split_once(&format!("\n## `{table}`\n"))?;
    rest.split("\n## ").next()
}

fn told(table: &str) -> BTreeSet<String> {
    rows(section(table).unwrap_or_default()).iter().map(|cells| bare(&cells[0])).collect()
}

/// The table of the build record, which holds no rows of its own kind.
const RECORD: &str = "build_record";

#[test]
fn the_layer_page_tells_every_column_and_no_other() {
    for table in &TABLES {
        let stored: BTreeSet<String> = table.names().into_iter().map(str::to_owned).collect();
        assert_eq!(told(table.name), stored, "columns of `{}`: the page is on the left", table.name);
    }
    let mut tables: BTreeSet<&str> = TABLES.iter().map(|t| t.name).collect();
    tables.insert(RECORD);
    let page = find("layer").unwrap().text;
    let sections: BTreeSet<&str> =
        page.lines().filter_map(|l| l.strip_prefix("## `")).map(|l| l.trim_end_matches('`')).collect();
    assert_eq!(sections, tables);
}

/// The unit that a name promises.
fn unit(column: &str) -> Option<&'static str> {
    const ENDS: [(&str, &str); 6] =
        [("_m", "m"), ("_s", "s"), ("_deg", "deg"), ("_kmh", "km/h"), ("_per_10km", "per 10 km"), ("_share", "0..1")];
    const BEGINS: [(&str, &str); 2] = [("blocked_", "0..1"), ("beyond_", "per drive")];
    let ending = ENDS.iter().find(|(end, _)| column.ends_with(end));
    ending.or_else(|| BEGINS.iter().find(|(begin, _)| column.starts_with(begin))).map(|found| found.1)
}

#[test]
fn units_are_those_in_the_names() {
    let mut with_unit = 0;
    for table in &TABLES {
        for cells in rows(section(table.name).unwrap()) {
            assert!(cells.len() == 3 && !cells[2].is_empty(), "{}: {cells:?}", table.name);
            if let Some(unit) = unit(&bare(&cells[0])) {
                assert_eq!(cells[1], unit, "{}.{}", table.name, cells[0]);
                with_unit += 1;
            }
        }
    }
    assert!(with_unit > 40, "{with_unit}");
}

#[test]
fn the_layer_page_tells_every_part_of_the_build_record() {
    let record = serde_json::to_value(BuildRecord::default()).unwrap();
    let stored: BTreeSet<String> = record.as_object().unwrap().keys().cloned().collect();
    assert_eq!(told(RECORD), stored);
}

#[test]
fn every_page_is_found_by_its_own_topic() {
    let topics: BTreeSet<&str> = pages().map(|p| p.topic).collect();
    assert_eq!(topics.len(), pages().count());
    for page in pages() {
        assert_eq!(find(page.topic), Some(page));
        assert!(page.text.trim_start().starts_with("# ") && !page.title.is_empty(), "{}", page.topic);
    }
    assert_eq!(find("layers"), None);
}

#[test]
fn decisions_are_listed_and_say_why_and_what_was_measured() {
    let listed: Vec<String> = rows(decisions::INDEX.text).iter().map(|cells| bare(&cells[0])).collect();
    let there: Vec<&str> = decisions::PAGES.iter().map(|p| p.topic).collect();
    assert_eq!(listed, there);
    for page in decisions::PAGES {
        let heads: Vec<&str> = page.text.lines().filter_map(|l| l.strip_prefix("## ")).collect();
        assert_eq!(heads, ["Context", "Decision", "Consequence", "What was measured"], "{}", page.topic);
    }
}

#[test]
fn the_glossary_has_one_meaning_for_each_word() {
    let rows = rows(find("glossary").unwrap().text);
    let words: BTreeSet<&str> = rows.iter().map(|cells| cells[0].as_str()).collect();
    assert_eq!(words.len(), rows.len(), "a word appears twice");
    fn missing<W: Words>(words: &BTreeSet<&str>) -> Vec<&'static str> {
        W::ALL.iter().map(|w| w.name()).filter(|w| !words.contains(w)).collect()
    }
    let missing = [
        missing::<Rating>(&words),
        missing::<Cause>(&words),
        missing::<Evidence>(&words),
        missing::<BlockerEvidence>(&words),
        missing::<TerrainEvidence>(&words),
        missing::<ValueFrom>(&words),
        missing::<RoadAccess>(&words),
        missing::<StopAccess>(&words),
    ];
    assert_eq!(missing.concat(), [""; 0], "words without a meaning");
    for cause in Cause::ALL.iter().filter(|c| **c != Cause::None) {
        let told = &rows.iter().find(|cells| cells[0] == cause.name()).unwrap()[1];
        assert!(told.contains(&format!("\"{}\"", cause.phrase())), "{cause}: {told}");
    }
}

#[test]
fn changes_are_told_of_every_version_of_the_layer_newest_first() {
    let heads: Vec<&str> = find("changelog").unwrap().text.lines().filter_map(|l| l.strip_prefix("## ")).collect();
    let versions: Vec<String> = (1..=SCHEMA_VERSION).rev().map(|version| format!("Schema {version}")).collect();
    assert_eq!(heads, versions);
}

/// What stands between backticks.
fn quoted(text: &str) -> impl Iterator<Item = &str> {
    text.split("```").step_by(2).flat_map(|prose| prose.split('`').skip(1).step_by(2))
}

/// Files and folders of the repository that a text names, and topics of the guide.
fn missing(name: &str, text: &str) -> Vec<String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let there = |path: &str| ["", "src"].iter().any(|folder| root.join(folder).join(path).exists());
    let file = |word: &&str| {
        let known = [".rs", ".md", ".py", ".toml"].iter().any(|end| word.ends_with(end));
        word.contains('/') && (known || word.starts_with("src/") || word.starts_with("tests/") || word.ends_with('/'))
    };
    let files = quoted(text).filter(file).filter(|path| !there(path));
    let topics = quoted(text).filter(|word| word.starts_with("decisions/") && find(word).is_none());
    files.chain(topics.filter(|word| !word.ends_with(".md"))).map(|word| format!("{name}: {word}")).collect()
}

#[test]
fn files_and_topics_that_are_named_exist() {
    let developers = include_str!("../../DEVELOPERS.md");
    let readme = include_str!("../../README.md");
    let texts = pages().map(|p: &Page| (p.topic, p.text)).chain([("DEVELOPERS.md", developers), ("README.md", readme)]);
    let wrong: Vec<String> = texts.flat_map(|(name, text)| missing(name, text)).collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert_eq!(missing("here", "`physics/nowhere.rs` and `decisions/none`").len(), 2, "the check can fail");
}

#[test]
fn the_page_on_safety_holds_every_warning_word_for_word() {
    let one_line = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let page = one_line(find("safety").unwrap().text);
    for caution in Caution::ALL {
        assert!(page.contains(caution.text()), "{caution:?}: {}", caution.text());
    }
    assert!(page.split(' ').count() <= 650, "{} words are too many to be read", page.split(' ').count());
    assert_eq!(crate::base::caution::MORE, "waymask guide safety");
}

#[test]
fn developers_find_their_way_on_three_sheets() {
    let lines = include_str!("../../DEVELOPERS.md").lines().count();
    assert!(lines <= 150, "{lines} lines");
}
