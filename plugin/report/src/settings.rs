//! What it takes to read the same again: the settings, the version, the command.

use ledgerline_measure::{Halves, RmsReference, Settings, TruePeakFilter, View};
use maud::{Markup, html};

use crate::{numbers, page};

/// How a page came about.
pub(crate) struct Repeat<'a> {
    pub settings: Settings,
    pub view: View,
    pub command: Option<&'a str>,
}

/// The settings with their heading.
pub(crate) fn section(repeat: &Repeat) -> Markup {
    let Repeat { settings, view, command } = repeat;
    let text = |text: String| html! { (text) };
    let mut rows = vec![
        (
            "Audible band",
            text(format!(
                "{} to {}",
                numbers::chosen_frequency(settings.edges.low_hz()),
                numbers::chosen_frequency(settings.edges.high_hz())
            )),
        ),
        ("Halves", text(halves(settings.halves).into())),
        ("True peak", text(true_peak(settings.true_peak).into())),
        ("RMS reads", text(rms(view.rms_reference).into())),
        (
            "Target",
            text(format!(
                "{} {} in the audible band",
                numbers::plain(view.target.value, 1),
                numbers::target_unit(view.target.kind)
            )),
        ),
        ("Ceiling", text(format!("{} dBFS and dBTP", numbers::plain(view.ceiling_db, 1)))),
    ];
    rows.extend(made_by(*command));
    html! {
        h3 { "Settings" }
        (page::facts("To read the same again", &rows))
    }
}

/// The rows of every page: version and command.
pub(crate) fn made_by(command: Option<&str>) -> Vec<(&'static str, Markup)> {
    let mut rows = vec![("Version", html! { "Ledgerline " (page::VERSION) })];
    if let Some(command) = command {
        rows.push(("Command", html! { code { (page::clean(command)) } }));
    }
    rows
}

fn halves(halves: Halves) -> &'static str {
    match halves {
        Halves::LeftRight => "A left, B right",
        Halves::MainSidechain => "A main input, B side-chain",
        Halves::Mono => "mono: A is all there is",
    }
}

fn true_peak(filter: TruePeakFilter) -> &'static str {
    match filter {
        TruePeakFilter::Interpolated => "interpolated, within ±0.02 dB for sines up to 20 kHz",
        TruePeakFilter::Bs1770 => "the filter printed in ITU-R BS.1770-5, Annex 2",
    }
}

fn rms(reference: RmsReference) -> &'static str {
    match reference {
        RmsReference::FullScaleSquare => "−3.01 dBFS for a full-scale sine",
        RmsReference::FullScaleSine => "0 dBFS for a full-scale sine (AES17)",
    }
}
