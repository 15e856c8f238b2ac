//! What may be wider than the page.

use maud::{Markup, html};

/// What is too wide for a narrow screen, in a frame that scrolls and that the keyboard reaches.
pub(crate) fn wide(label: &str, content: &Markup) -> Markup {
    html! { div.wide role="region" aria-label=(label) tabindex="0" { (content) } }
}
