//! What every card says: the cautions, the files, and how the mixer is set up.

use super::paper::{Paper, together};

/// Stands over every table of what plays.
pub(super) const BEFORE_PLAYING: &str =
    "Before you play: start low, and switch loudspeakers and headphones off. This is loud noise.";

/// Why and how to be careful; `more` is what else plays besides noise.
pub(super) fn cautions(paper: &mut Paper, more: &str) {
    paper.heading("CAUTION FIRST");
    let loud = format!(
        "This is loud, dense noise{more}. Through loudspeakers or headphones that are turned up it \
         harms ears and burns out tweeters."
    );
    paper.points(&[
        &loud,
        "Start low: switch amplifiers, loudspeakers and headphones off, or turn them all the way \
         down, before you play. Nothing here has to be listened to: watch the meter.",
        "Take both channels off every other bus: monitors, headphone mixes, streams, public address.",
        "Local codes on noise, and the practice of licensed engineers, come before anything here.",
    ]);
}

/// What the files are for.
pub(super) fn stick(paper: &mut Paper, [first, second, both]: [&str; 3], are: [&str; 3]) {
    paper.heading("WHAT IS ON THE STICK");
    let file = |name: &str, is: &str| format!("{name:<18} {is}");
    paper.lines(&[
        file(first, are[0]),
        file(second, are[1]),
        file(both, are[2]),
        file("card.txt", "this card"),
    ]);
}

/// How the mixer is set up; `rate` is the files' sample rate, `option` what else was typed to make
/// them.
pub(super) fn mixer(paper: &mut Paper, both: &str, rate: &str, option: &str) {
    paper.heading("SET UP");
    let again = together(&format!("ledgerline signal FOLDER{option} --rate 96000"));
    let rate = format!(
        "Set the mixer or session to {}. If it runs at another rate, make files for it, as in {again}",
        together(rate)
    );
    let play = format!(
        "Play {both} on a stereo player, its left into one channel and its right into another. It \
         keeps the two together. The two mono files are for a session of two tracks, where both \
         begin at the same moment."
    );
    paper.steps(&[
        &rate,
        &play,
        "Where the player comes up as one stereo channel, make two mono channels of it: panned hard \
         left and right, the two never meet.",
        "Set both channels alike: the same gain, faders at 0 dB (unity), pan in the middle; no \
         equaliser, filter, compressor, gate, limiter, delay or effect, on the channels and on the \
         bus. Fades, normalising and \"enhancing\" off in the player.",
        "Send both channels to one bus, and nothing else to it. Put the mixer's meter on that bus.",
    ]);
}
