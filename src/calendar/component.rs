//! The tree of components (`BEGIN` to `END`) of a text.
use super::lines::{self, Line, shown};

/// Lines that break the grammar, with what is wrong.
pub(crate) type Bad = Vec<(usize, String)>;

/// A text with components deeper than this is not read as a calendar.
const DEEPEST: usize = 8;
/// What holds everything else.
const CALENDAR: &str = "VCALENDAR";

/// One component with its properties and the components inside it.
#[derive(Debug, Clone, Default)]
pub(crate) struct Component {
    /// Line of its `BEGIN`.
    pub at: usize,
    /// Name, in capitals.
    pub name: String,
    /// Its properties, in order.
    pub properties: Vec<Line>,
    /// Components inside.
    pub inside: Vec<Component>,
}

impl Component {
    /// First property of a name.
    pub fn get(&self, name: &str) -> Option<&Line> {
        self.properties.iter().find(|p| p.name == name)
    }
    /// Every property of a name.
    pub fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a Line> {
        self.properties.iter().filter(move |p| p.name == name)
    }
    /// Every component of a name inside.
    pub fn parts<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a Component> {
        self.inside.iter().filter(move |c| c.name == name)
    }
}

/// The components of a text, and what was wrong with it, line by line.
///
/// # Errors
/// Components are nested too deeply, or the text ends within a calendar: nobody can tell how many meetings are lost, and a day
/// would look free.
pub fn components(text: &str) -> Result<(Vec<Component>, Bad), String> {
    let (lines, mut bad) = lines::lines(text);
    let mut open = vec![Component::default()];
    for line in lines {
        match line.name.as_str() {
            "BEGIN" if open.len() > DEEPEST => {
                return Err(format!("line {}: components are nested more than {DEEPEST} deep", line.at));
            }
            "BEGIN" => {
                let name = line.value.trim().to_ascii_uppercase();
                open.push(Component { at: line.at, name, ..Component::default() });
            }
            "END" => end(&mut open, &line, &mut bad),
            _ => {
                if let Some(inner) = open.last_mut() {
                    inner.properties.push(line);
                }
            }
        }
    }
    if let Some(cut) = open.get(1).filter(|outer| outer.name == CALENDAR) {
        return Err(format!("ends too early: `BEGIN:{CALENDAR}` in line {} has no `END:{CALENDAR}`", cut.at));
    }
    close_to(&mut open, 1, &mut bad);
    Ok((open.into_iter().flat_map(|c| c.inside).collect(), bad))
}

/// The calendars among components.
///
/// # Errors
/// There is none.
pub fn calendars(components: Vec<Component>) -> Result<Vec<Component>, String> {
    let calendars: Vec<_> = components.into_iter().filter(|c| c.name == CALENDAR).collect();
    if calendars.is_empty() {
        return Err(format!("holds no calendar: `BEGIN:{CALENDAR}` is missing"));
    }
    Ok(calendars)
}

fn end(open: &mut Vec<Component>, line: &Line, bad: &mut Bad) {
    let name = line.value.trim().to_ascii_uppercase();
    match open.iter().rposition(|c| c.name == name).filter(|depth| *depth > 0) {
        Some(depth) => {
            close_to(open, depth + 1, bad);
            close(open);
        }
        None => bad.push((line.at, format!("`END:{}` without its `BEGIN`; line left out", shown(&name)))),
    }
}

/// Closes what was left open inside the first `depth` components.
fn close_to(open: &mut Vec<Component>, depth: usize, bad: &mut Bad) {
    while open.len() > depth {
        if let Some(lost) = open.last() {
            bad.push((
                lost.at,
                format!("`BEGIN:{}` without its `END`; read to the end of the part that holds it", shown(&lost.name)),
            ));
        }
        close(open);
    }
}

fn close(open: &mut Vec<Component>) {
    if let Some(done) = open.pop()
        && let Some(outer) = open.last_mut()
    {
        outer.inside.push(done);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn components_nest_and_an_alarm_is_not_the_event() {
        let text = "begin:vcalendar\nBEGIN:VEVENT\nSUMMARY:a\nBEGIN:VALARM\nSUMMARY:b\nEND:VALARM\nUID:1\nEND:VEVENT\nEND:VCALENDAR\n";
        let (found, bad) = components(text).unwrap();
        let event = found[0].parts("VEVENT").next().unwrap();
        assert_eq!(event.all("SUMMARY").count(), 1);
        assert!(bad.is_empty() && event.get("UID").is_some() && event.at == 2);
    }

    #[test]
    fn missing_ends_and_strange_ones_are_survived() {
        let text =
            "BEGIN:VCALENDAR\nBEGIN:VEVENT\nBEGIN:VALARM\nEND:VEVENT\nEND:VTODO\nBEGIN:VEVENT\nUID:2\nEND:VCALENDAR\n";
        let (found, bad) = components(text).unwrap();
        assert_eq!((found[0].parts("VEVENT").count(), bad.len()), (2, 3), "{bad:?}");
    }

    #[test]
    fn a_calendar_that_is_cut_short_is_refused_wherever_it_is_cut() {
        let text = "BEGIN:VCALENDAR\nBEGIN:VEVENT\nUID:1\nEND:VEVENT\nBEGIN:VEVENT\nUID:2\nEND:VEVENT\nEND:VCALENDAR";
        assert!(components(text).is_ok());
        for end in "BEGIN:VCALENDAR".len()..text.len() {
            let told = components(&text[..end]).unwrap_err();
            assert!(told.contains("ends too early: `BEGIN:VCALENDAR` in line 1 has no"), "{end}: {told}");
        }
    }

    #[test]
    fn what_is_no_calendar_is_refused() {
        assert!(calendars(components("").unwrap().0).unwrap_err().contains("BEGIN:VCALENDAR"));
        assert!(components(&"BEGIN:A\n".repeat(100_000)).unwrap_err().contains("nested"));
    }
}
