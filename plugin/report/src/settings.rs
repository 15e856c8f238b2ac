//! What it takes to read the same again: the settings, the version, the command.

use ledgerline_measure::{Halves, RmsReference, Settings, TruePeakFilter, View, YourMeter, words};
use maud::{Markup, html};

use crate::made::Made;
use crate::page;

/// How a page came about.
pub(crate) struct Repeat<'a> {
    /// Where the file is.
    pub path: &'a str,
    /// How it was measured.
    pub settings: Settings,
    /// How it was read.
    pub view: View,
    /// How the page was made.
    pub made: Made<'a>,
}

/// The settings with their heading.
pub(crate) fn section(repeat: &Repeat) -> Markup {
    let Repeat { path, settings, view, made } = repeat;
    let text = |text: String| html! { (text) };
    let mut rows = vec![
        ("File", page::path(path)),
        (
            "Audible band",
            text(format!(
                "{} to {}",
                words::frequency(settings.edges.low_hz()),
                words::frequency(settings.edges.high_hz())
            )),
        ),
        ("Halves", text(halves(settings.halves))),
        ("True peak", text(true_peak(settings.true_peak).into())),
        ("RMS reference", text(rms(view.rms_reference))),
        (
            "Target",
            text(view.target.map_or_else(
                || "none".into(),
                |target| format!("{} in the audible band", target.words()),
            )),
        ),
        ("Ceiling", text(format!("{} dBFS and dBTP", words::fixed(view.ceiling_db, 1)))),
        ("Clipping", text(format!("thought {}", view.clip_at.word()))),
    ];
    if let Some(YourMeter { kind, offset_db }) = view.your_meter {
        let scale = words::signed(offset_db, 1);
        rows.push(("Your meter", text(format!("{}; its scale adds {scale} dB", kind.word()))));
    }
    rows.extend(made_by(made));
    html! {
        h3 { "Details" }
        (page::facts("To read the same again", &rows))
    }
}

/// The rows of every page: version and command.
pub(crate) fn made_by(made: &Made) -> Vec<(&'static str, Markup)> {
    let mut rows = vec![("Version", html! { "Ledgerline " (page::VERSION) })];
    if let Some(command) = made.command {
        rows.push(("Command", html! { code { (page::clean(command)) } }));
    }
    rows
}

fn halves(halves: Halves) -> String {
    match halves {
        Halves::Mono => halves.word().into(),
        _ => format!("{}: {}", halves.both(), halves.word()),
    }
}

fn true_peak(filter: TruePeakFilter) -> &'static str {
    match filter {
        TruePeakFilter::Interpolated => "interpolated, within ±0.02 dB for sines up to 20 kHz",
        TruePeakFilter::Bs1770 => "ITU-R BS.1770 filter, as printed in BS.1770-5, Annex 2",
    }
}

fn rms(reference: RmsReference) -> String {
    let sine = match reference {
        RmsReference::FullScaleSquare => "−3.01 dBFS",
        RmsReference::FullScaleSine => "0 dBFS",
    };
    format!("{}: a full-scale sine reads {sine}", reference.word())
}
