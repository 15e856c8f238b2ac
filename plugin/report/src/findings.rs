//! Findings on a page: the first as a headline, the others as a list. A sign and a word tell how
//! much each matters; the colour only repeats it.

use ledgerline_measure::verdict::Severity;
use maud::{Markup, html};

use crate::page;

/// Something to say, and how much it matters.
pub(crate) struct Said {
    /// How much it matters.
    pub severity: Severity,
    /// The word beside its sign.
    pub word: &'static str,
    /// The sentence.
    pub sentence: String,
}

impl Said {
    /// A sentence under the usual word of its severity.
    pub(crate) fn new(severity: Severity, sentence: String) -> Self {
        Self { severity, word: severity.word(), sentence }
    }
}

/// The class that colours a severity.
pub(crate) fn class(severity: Severity) -> &'static str {
    match severity {
        Severity::Clear => "clear",
        Severity::Note => "note",
        Severity::Caution => "caution",
        Severity::Fault => "fault",
    }
}

/// The most important sentence.
pub(crate) fn headline(said: &Said) -> Markup {
    html! {
        div.said.(class(said.severity)) {
            div.sign { (sign(said.severity)) (said.word) }
            p { (page::kept_together(&said.sentence)) }
        }
    }
}

/// Further sentences.
pub(crate) fn list(said: &[Said]) -> Markup {
    html! {
        ul.findings {
            @for said in said {
                li {
                    span.(class(said.severity)) { (sign(said.severity)) }
                    b.(class(said.severity)) { (said.word) }
                    p { (page::kept_together(&said.sentence)) }
                }
            }
        }
    }
}

/// What to do, in the order in which to do it.
pub(crate) fn todo(steps: &[String]) -> Markup {
    html! {
        @match steps {
            [] => {}
            [step] => p.todo { (page::kept_together(step)) }
            steps => ol.todo { @for step in steps { li { (page::kept_together(step)) } } }
        }
    }
}

/// The sign of a severity: each has an outline of its own.
pub(crate) fn sign(severity: Severity) -> Markup {
    let outline = match severity {
        Severity::Clear | Severity::Note => "M20 3a17 17 0 1 0 .01 0z",
        Severity::Caution => "M20 4L38 36H2z",
        Severity::Fault => "M13 3H27L37 13V27L27 37H13L3 27V13z",
    };
    let inside = match severity {
        Severity::Clear => "M12 21l6 6 11-13",
        Severity::Note => "M20 18v11M20 11v1",
        Severity::Caution => "M20 15v10M20 30v1",
        Severity::Fault => "M14 14L26 26M26 14L14 26",
    };
    html! {
        svg viewBox="0 0 40 40" aria-hidden="true" focusable="false" fill="none"
            stroke="currentColor" stroke-width="3" stroke-linejoin="round" stroke-linecap="round" {
            path d=(outline) {}
            path d=(inside) {}
        }
    }
}
