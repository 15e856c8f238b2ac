//! The words that a page uses and that are not everybody's, explained at its end.

use maud::{Markup, html};

/// A word, how a text shows that it uses it (in lower case), and what it means.
type Entry = (&'static str, &'static [&'static str], &'static str);

const WORDS: [Entry; 20] = [
    (
        "whole band, audible band",
        &["whole band", "audible band", "audible"],
        "Everything that the samples hold, up to half the sample rate; and what is left of it between \
         two edges, 20 Hz and 20 kHz unless set otherwise.",
    ),
    (
        "hidden",
        &["hidden"],
        "What the whole band holds and the audible band does not: above its upper edge, below its \
         lower edge, and DC.",
    ),
    ("sample peak", &["sample peak", "sample peaks"], "The largest sample, in dBFS."),
    (
        "true peak",
        &["true peak", "true-peak"],
        "The highest point of the waveform, which may lie between two samples, in dBTP.",
    ),
    (
        "inter-sample peak",
        &["inter-sample peak"],
        "How far the waveform rises above the largest sample: it takes room that a meter of samples \
         does not show.",
    ),
    ("ceiling", &["ceiling"], "The highest peak allowed."),
    ("sample-peak room", &["sample-peak room"], "Ceiling less the largest sample."),
    ("audible room", &["audible room"], "Ceiling less the true peak of the audible band."),
    (
        "withheld",
        &["withheld"],
        "Audible room less the room that a sample-peak meter shows. Where it is the other way round, there is \
         less room than a sample-peak meter shows.",
    ),
    (
        "lift now",
        &["lift now", "turn down now"],
        "How far the level may rise as the mix stands: to the target, or to the ceiling less the true \
         peak of the whole band, whichever comes first.",
    ),
    (
        "after filters",
        &["after filters"],
        "The same once everything outside the audible band is filtered away.",
    ),
    (
        "price",
        &["price"],
        "By how much one cause changes the room, in the order of the account; a minus takes room that \
         a sample-peak meter shows.",
    ),
    (
        "fold-down",
        &["fold-down"],
        "Left and right added and lowered by 3 dB, as a mono playback may have it.",
    ),
    ("halves", &["halves"], "The two parts of the bus: left and right, or main and side-chain."),
    (
        "sum gain",
        &["sum gain"],
        "Level of the two halves added, against one of two equal halves: +6.0 dB identical, +3.0 dB \
         independent.",
    ),
    ("crest", &["crest"], "Sample peak less RMS."),
    ("over", &["over", "overs"], "A run of samples at or over full scale."),
    (
        "flat tops",
        &["flat tops"],
        "Runs of equal samples at the highest peaks, below full scale: clipping leaves them.",
    ),
    (
        "entry",
        &["entry", "entries"],
        "A stretch between two changes or marks, with readings of its own.",
    ),
    (
        "residual",
        &["residual"],
        "What is left of the export once the mix, brought to its gain and delay, is taken out.",
    ),
];

/// The words that a page's body uses; nothing where it uses none.
pub(crate) fn section(body: &str) -> Markup {
    let text = text_of(body).to_lowercase();
    let used: Vec<&Entry> =
        WORDS.iter().filter(|(_, signs, _)| signs.iter().any(|sign| has(&text, sign))).collect();
    html! {
        @if !used.is_empty() {
            section.glossary aria-labelledby="glossary" {
                h2 id="glossary" { "Words" }
                dl { @for (word, _, meaning) in used { div { dt { (word) } dd { (meaning) } } } }
            }
        }
    }
}

/// Whether a phrase stands in a text with no letter against its ends.
fn has(text: &str, phrase: &str) -> bool {
    text.match_indices(phrase).any(|(at, _)| {
        let behind = &text[at + phrase.len()..];
        !text[..at].ends_with(char::is_alphanumeric) && !behind.starts_with(char::is_alphanumeric)
    })
}

/// What stands between the tags.
fn text_of(html: &str) -> String {
    let mut text = String::new();
    for part in html.split('<') {
        text.push(' ');
        text.push_str(part.split_once('>').map_or(part, |(_, text)| text));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_is_explained_where_the_text_uses_it_and_not_where_markup_does() {
        let used = |body: &str| section(body).into_string();
        assert!(used("<p class='x'>The Overs of the bus</p>").contains("<dt>over</dt>"));
        assert_eq!(used("<p class='is-hidden price'>moreover, overseas</p>"), "");
    }
}
