//! The room as an account: what a meter shows, what each cause adds or takes, and as their sum what is
//! audible; and what does not belong into that sum.

use ledgerline_measure::after_conversion::AfterConversion;
use ledgerline_measure::causes::{Cause, GROWTH_DB};
use ledgerline_measure::{Level, words};
use maud::{Markup, html};

use super::ReadPage;
use crate::wide::wide;
use crate::{numbers, page};

/// The account, then what stands beside it.
pub(super) fn section(file: &ReadPage) -> Markup {
    let (reading, edges) = (file.reading, file.settings.edges);
    let withheld = numbers::withheld(reading.room.withheld_db);
    html! {
        h3 { "Room" }
        (account(file))
        p { (withheld.number) " " span.unit { "dB" } " " (withheld.word) "." }
        ul { @for cause in reading.causes.iter() {
            li { (page::kept_together(&cause.sentence())) (page::kept_together(&grown(cause))) }
        } }
        (fold_down(file))
        @if let Some(after) = AfterConversion::of(reading, edges) {
            p { (page::kept_together(&after.sentence())) }
        }
        (limiter(file))
    }
}

fn account(file: &ReadPage) -> Markup {
    let room = &file.reading.room;
    let change = |db: f64| numbers::difference(Level::from_db(db));
    let since = |s: Option<f64>| s.map_or_else(|| words::NONE.to_owned(), numbers::moment);
    let table = html! {
        table.account {
            caption {
                "Under the ceiling of " (words::fixed(room.ceiling_db, 1))
                " dB. The prices add up; alone: what the true peak falls by if this alone is taken \
                 away; since: when the price came to be 1 dB."
            }
            thead { tr {
                th.words scope="col" { "Room" }
                th scope="col" { "Price" span.unit { "dB" } }
                th scope="col" { "Alone" span.unit { "dB" } }
                th scope="col" { "Since" span.unit { "min:s" } }
            } }
            tbody {
                tr {
                    th scope="row" { "Your meter's room" }
                    td { (numbers::level(room.room_db)) } td {} td {}
                }
                @for cause in file.reading.causes.iter() {
                    tr {
                        th scope="row" { (page::capital(&page::kept_together(&cause.word()))) }
                        td { (change(cause.price_db)) }
                        td { (change(cause.alone_db)) }
                        td { (since(cause.since_s())) }
                    }
                }
            }
            tbody.total {
                tr {
                    th scope="row" { (page::capital(words::AUDIBLE_ROOM)) }
                    td { (numbers::level(room.true_room_db)) } td {} td {}
                }
            }
        }
    };
    wide("What takes or hides room", &table)
}

/// How a price went on growing, where it did.
fn grown(cause: &Cause) -> String {
    let later = GROWTH_DB.into_iter().zip(cause.grew_s).skip(1);
    let steps: Vec<String> = later
        .filter_map(|(db, since_s)| {
            Some(format!("{} dB since {}", words::plain(db), words::moment(since_s?, 0)))
        })
        .collect();
    if steps.is_empty() { String::new() } else { format!(" At least {}.", words::list(&steps)) }
}

/// Left and right folded down, which is no part of the sum.
fn fold_down(file: &ReadPage) -> Markup {
    let ceiling_db = file.reading.room.ceiling_db;
    let Some(peak_dbtp) = file.reading.fold_down_dbtp.finite() else { return html! {} };
    let (left_db, ceiling) = (ceiling_db - peak_dbtp, words::fixed(ceiling_db, 1));
    let side = if words::fixed(left_db, 1).starts_with('−') { "above" } else { "under" };
    let sentence = format!(
        "Apart from that, the {} has a true peak of {} dBTP: {} {side} the ceiling of {ceiling} dBTP.",
        words::FOLD_DOWN,
        words::fixed(peak_dbtp, 1),
        words::distance(left_db)
    );
    html! { p { (page::kept_together(&sentence)) } }
}

/// What a limiter would do.
fn limiter(file: &ReadPage) -> Markup {
    let limiter = &file.reading.limiter;
    let level = |level: Level| html! { (numbers::level(level)) " " span.unit { "dB" } };
    let reductions = [
        ("on the whole band", level(limiter.whole_db)),
        ("on the audible band", level(limiter.audible_db)),
        ("spent on hidden content", level(limiter.hidden_db)),
    ];
    page::facts("Most that a limiter at the ceiling takes down", &reductions)
}
