//! What this instance does in the sum test. Before a feed is switched on, the user is asked and
//! told why: it is noise into loudspeakers.

use egui::{Rect, RichText, Ui, UiBuilder};

use crate::choices::{Choices, FEED_LEVEL_RANGE_DBFS, FeedsPlay, PAIR_RANGE_S, SumTest};
use crate::editor::look::Look;
use crate::editor::panel;
use crate::editor::settings_panel::{Scale, one_of, press, slider};

/// Why the user is asked.
const CAUTION: &str = "A feed is noise and tones at a steady level. Through loudspeakers or \
                       headphones that are turned up it harms ears and tweeters. Turn the monitors \
                       down first.";

/// Draws the roles and changes what the user changes.
pub fn show(
    ui: &mut Ui,
    look: &Look,
    rect: Rect,
    choices: &mut Choices,
    asked: &mut Option<SumTest>,
) {
    let content = panel::show(ui, look, rect, "Sum test", "");
    let mut inside = ui.new_child(UiBuilder::new().max_rect(content).id_salt("sum test"));
    let ui = &mut inside;
    let roles = [SumTest::Off, SumTest::Feed1, SumTest::Feed2, SumTest::Bus];
    let roles = roles.map(|role| (role, role.word()));
    let mut role = asked.unwrap_or(choices.sum_test);
    one_of(ui, look, "This is", &roles, &mut role);
    let sounds = choices.sum_test.feed().is_some();
    if role.feed().is_some() && !sounds {
        *asked = Some(role);
    } else {
        *asked = None;
        choices.sum_test = role;
    }
    // A loop of each noise, and the test.
    let plays = FeedsPlay::ALL.map(|plays| (plays, plays.short()));
    one_of(ui, look, "Feeds play", &plays, &mut choices.feeds_play);
    let on_bus = choices.sum_test == SumTest::Bus;
    if choices.feeds_play != FeedsPlay::Test && !on_bus {
        let scale = Scale { range: PAIR_RANGE_S, unit: "s", decimals: 0, logarithmic: true };
        slider(ui, look, "Each pair", &mut choices.pair_s, &scale);
    }
    let unit = "dBFS";
    let scale = Scale { range: FEED_LEVEL_RANGE_DBFS, unit, decimals: 1, logarithmic: false };
    slider(ui, look, "Feed level", &mut choices.feed_level_dbfs, &scale);
    if !on_bus {
        let offline = [(false, "no feed"), (true, "feed too")];
        one_of(ui, look, "Offline", &offline, &mut choices.feed_offline);
    }
    if let Some(feed) = *asked {
        question(ui, look, feed, choices, asked);
    } else if sounds {
        say(ui, look, "The output is replaced by the feed while the transport runs.");
    }
}

/// Asks before a feed is switched on.
fn question(
    ui: &mut Ui,
    look: &Look,
    feed: SumTest,
    choices: &mut Choices,
    asked: &mut Option<SumTest>,
) {
    say(ui, look, CAUTION);
    if press(ui, look, &format!("They are down: play {}", feed.word())) {
        choices.sum_test = feed;
        *asked = None;
    }
    if press(ui, look, "Leave it off") {
        *asked = None;
    }
}

fn say(ui: &mut Ui, look: &Look, words: &str) {
    ui.label(RichText::new(words).font(look.words(1.0)).color(look.palette.text));
}
