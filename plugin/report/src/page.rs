//! What every page has: head, style, heading, footer, and the few parts that recur.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::made::Made;
use crate::{chart, glossary, palette};

/// The layout; colours come from the palette.
const LAYOUT: &str = include_str!("page/layout.css");

/// The version that a page names, so that its figures can be made again.
pub(crate) const VERSION: &str = env!("CARGO_PKG_VERSION");

/// What a browser may do with a page: style it.
const POLICY: &str =
    "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'";

/// What a page is called.
pub(crate) struct Title<'a> {
    /// In the browser's own list of pages.
    pub full: &'a str,
    /// Over the page, where the file's name follows anyway.
    pub kind: &'a str,
}

/// A whole page: its head, its body, and the words that the body uses. Nothing on it may be fetched or
/// run, which the policy in its head makes a browser enforce.
pub(crate) fn page(title: &Title, made: &Made, body: Markup) -> String {
    let style = format!("{}{LAYOUT}{}", palette::style(), chart::style());
    let body = body.into_string();
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy"
                    content=(POLICY);
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="generator" content={ "Ledgerline " (VERSION) };
                title { (clean(title.full)) }
                style { (PreEscaped(style)) }
            }
            body {
                (chart::shared_patterns())
                main {
                    header {
                        h1 { (clean(title.kind)) }
                        (made_line(made))
                    }
                    (PreEscaped(&body))
                    (glossary::section(&body))
                }
                footer {
                    p { "Made by Ledgerline " (VERSION) ". Levels: " span.num { "−∞" }
                        " is silence, " span.num { "–" } " means that there is no such reading." }
                }
            }
        }
    }
    .into_string()
}

/// When and by whom.
fn made_line(made: &Made) -> Markup {
    let clock = made.at.clock();
    html! {
        p.made {
            (made.at.date()) " · " (&clock[..5]) " UTC"
            @if let Some(by) = made.by { " · by " bdi { (clean(by)) } }
        }
    }
}

/// A text from outside, such as a file name: without the characters that a page cannot hold or
/// that would turn the text around them.
pub(crate) fn clean(text: &str) -> String {
    text.chars().map(|c| if c.is_control() || is_turning(c) { '\u{fffd}' } else { c }).collect()
}

/// A sentence whose numbers are not parted from their units at the end of a line.
pub(crate) fn kept_together(sentence: &str) -> String {
    const UNITS: [&str; 12] =
        ["dB", "dBFS", "dBTP", "LUFS", "LU", "Hz", "kHz", "%", "s", "ms", "ppm", "kbit/s"];
    let mut kept = String::with_capacity(sentence.len());
    let mut words = sentence.split(' ').peekable();
    while let Some(word) = words.next() {
        kept.push_str(word);
        let Some(next) = words.peek() else { break };
        let unit = next.trim_end_matches(['.', ',', ':', ';', ')']);
        let is_number = word.ends_with(|c: char| c.is_ascii_digit() || c == '∞');
        kept.push(if is_number && UNITS.contains(&unit) { '\u{a0}' } else { ' ' });
    }
    kept
}

/// Words that begin a line, with a capital.
pub(crate) fn capital(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters.next().into_iter().flat_map(char::to_uppercase);
    first.chain(letters).collect()
}

/// Marks that change the direction of the text behind them.
fn is_turning(c: char) -> bool {
    matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200e}' | '\u{200f}')
}

/// A path, in a direction of its own and breakable behind its separators.
pub(crate) fn path(path: &str) -> Markup {
    html! {
        bdi.path {
            @for part in clean(path).split_inclusive(['/', '\\']) { (part) wbr; }
        }
    }
}

/// The last part of a path.
pub(crate) fn file_name(path: &str) -> &str {
    path.rsplit(['/', '\\']).find(|part| !part.is_empty()).unwrap_or(path)
}

/// Names and values, one pair a row.
pub(crate) fn facts(caption: &str, rows: &[(&str, Markup)]) -> Markup {
    html! {
        table.facts {
            caption { (caption) }
            tbody {
                @for (name, value) in rows { tr { th scope="row" { (capital(name)) } td { (value) } } }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_stays_with_its_unit() {
        let kept = kept_together("It is 7.8 dB (71 % of 10 files), or −∞ LUFS.");
        assert_eq!(kept, "It is 7.8\u{a0}dB (71\u{a0}% of 10 files), or −∞\u{a0}LUFS.");
    }

    #[test]
    fn a_file_name_cannot_turn_or_break_the_page() {
        assert_eq!(clean("a\u{202e}gpj.wav\0\n"), "a\u{fffd}gpj.wav\u{fffd}\u{fffd}");
        assert_eq!(file_name("/mixes/final/bus.wav"), "bus.wav");
        assert_eq!(file_name("-"), "-");
        assert_eq!(file_name("/"), "/");
    }
}
