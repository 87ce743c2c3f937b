//! Random rules against python-dateutil 2.9.0 (`rrulestr`), which made `rules.txt`: start, rule, then
//! the first dates. Starts are dates of their rule, since the standard leaves open what others mean.
use crate::calendar::kit::found;

const RULES: &str = include_str!("rules.txt");

#[test]
fn random_rules_give_the_dates_of_the_reference() {
    let file = std::env::var("WAYMASK_RULES").ok().map(|path| std::fs::read_to_string(path).unwrap());
    let (mut seen, mut refused) = (0, 0);
    let mut wrong = Vec::new();
    for line in file.as_deref().unwrap_or(RULES).lines().filter(|l| !l.starts_with('#')) {
        let mut parts = line.split(' ');
        let (start, rule) = (parts.next().unwrap(), parts.next().unwrap());
        let want: Vec<&str> = parts.collect();
        let body = format!("DTSTART:{start}\nRRULE:{rule}");
        let last = want.last().unwrap();
        let to: jiff::civil::DateTime = last.parse().unwrap();
        let to = to.checked_add(jiff::Span::new().seconds(1)).unwrap();
        let found = found(&body, "1900-01-01T00:00Z", &format!("{to}Z"));
        let got: Vec<String> = found.meetings.iter().map(|m| m.start.strftime("%Y%m%dT%H%M%S").to_string()).collect();
        // What is refused is said; nothing else may be.
        if found.complaints.iter().any(|c| c.lost) {
            let known = ["=-5", ",-5"].iter().any(|w| rule.contains(w)) || rule.contains("BYSETPOS");
            assert!(known && got == want[..1], "{rule}: {:?}", found.complaints);
            refused += 1;
        } else if got != want {
            wrong.push(format!("{start} {rule}\n  want {want:?}\n  got  {got:?} {:?}", found.complaints));
        }
        seen += 1;
    }
    assert!(wrong.is_empty(), "{} of {seen}:\n{}", wrong.len(), wrong[..wrong.len().min(8)].join("\n"));
    assert!(seen >= 200 && refused * 50 < seen, "{refused} of {seen} refused");
}
