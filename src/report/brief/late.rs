//! What becomes of the meetings if one leaves late.
use super::tables::table::{PageCell, PageTable};
use crate::ask::plan::Plan;
use crate::report::late::late_words;
use crate::report::words::unbroken;

/// The table.
pub(super) fn write(out: &mut String, plan: &Plan) {
    let mut table =
        PageTable::new("If you leave late, with the same stops", &["late", "leave", "arrive", "what changes"]);
    for late in late_words(plan) {
        let [leave, arrive] = late.leave_arrive;
        table.row(vec![
            PageCell::figure(unbroken(&late.late)),
            PageCell::figure(leave),
            PageCell::figure(arrive),
            PageCell::name(unbroken(&late.changes.join("; "))),
        ]);
    }
    table.write(out);
}
