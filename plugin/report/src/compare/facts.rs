//! What is known of the way from the mix to the export, and of the two files.

use ledgerline_measure::compare::Comparison;
use ledgerline_measure::compare::record::{
    ChannelMap, Dither, FileFacts as Stored, Polarity, WordChange,
};
use ledgerline_measure::{Level, words};
use maud::{Markup, html};

use super::ComparePage;
use crate::wide::wide;
use crate::{file, numbers, page};

type Row = (&'static str, Markup);

fn value(text: String, unit: &str) -> Markup {
    html! { (text) " " span.unit { (unit) } }
}

/// Alignment, channels, word, spectrum, dynamics and residual.
pub(super) fn way(comparison: &Comparison) -> Markup {
    let left = [alignment(comparison), channels(comparison)].concat();
    let right = [sound(comparison), residual(comparison)].concat();
    html! {
        h3 { "From mix to export" }
        div.pair {
            @if !left.is_empty() { (page::facts("Place and channels", &left)) }
            @if !right.is_empty() { (page::facts("Sound", &right)) }
        }
        (gains(comparison))
    }
}

fn alignment(comparison: &Comparison) -> Vec<Row> {
    let Some(alignment) = &comparison.alignment else {
        return vec![("Alignment", html! { "none: the files could not be laid over each other" })];
    };
    let ambiguous = if alignment.ambiguous { ", other delays fit as well" } else { "" };
    let stretch =
        |start: f64, end: f64| format!("{} to {}", numbers::moment(start), numbers::moment(end));
    vec![
        (
            "Delay",
            html! {
                (words::signed(alignment.delay_samples, 3)) " ± "
                (words::fixed(alignment.delay_error_samples, 3)) " "
                span.unit { "samples" } (ambiguous)
            },
        ),
        ("… in time", value(words::signed(alignment.delay_s * 1e3, 4), "ms")),
        (
            "Drift",
            html! {
                (words::signed(alignment.drift_ppm, 3)) " ± "
                (words::fixed(alignment.drift_error_ppm, 3)) " " span.unit { "ppm" }
            },
        ),
        ("Shared, in the mix", value(stretch(alignment.mix_start_s, alignment.mix_end_s), "min:s")),
        (
            "Shared, in the export",
            value(stretch(alignment.export_start_s, alignment.export_end_s), "min:s"),
        ),
        ("Likeness", value(words::fixed(100.0 * alignment.likeness, 2), "%")),
    ]
}

fn channels(comparison: &Comparison) -> Vec<Row> {
    let polarity = comparison.polarity.map(Polarity::word);
    let map = comparison.channels.map(ChannelMap::word);
    [("Polarity", polarity), ("Channels", map)]
        .into_iter()
        .filter_map(|(name, word)| word.map(|word| (name, html! { (word) })))
        .collect()
}

/// Gains from channel to channel, where they are not simply one to one.
fn gains(comparison: &Comparison) -> Markup {
    let plain = matches!(comparison.channels, Some(ChannelMap::Same) | None);
    let gains = &comparison.channel_gains;
    let inputs = gains.first().map_or(0, Vec::len);
    if plain || inputs == 0 {
        return html! {};
    }
    let cell = |gain: &f64| match Level::from_amplitude(*gain) {
        level if *gain < 0.0 => format!("{level:.2}, inverted"),
        level => numbers::level(level),
    };
    let table = html! {
        table {
            caption { "Gain from each channel of the mix to each channel of the export, in dB." }
            thead { tr {
                th.words scope="col" { "Channel" }
                @for input in 1..=inputs { th scope="col" { "mix " (input) } }
            } }
            tbody { @for (output, row) in gains.iter().enumerate() { tr {
                th scope="row" { "export " (output + 1) }
                @for gain in row { td { (cell(gain)) } }
            } } }
        }
    };
    wide("Gains from channel to channel", &table)
}

fn sound(comparison: &Comparison) -> Vec<Row> {
    // Of both sides, what matters is the difference.
    let clipped = |mix: u64, export: u64| match (mix, export) {
        (mix, export) if mix == export && mix > 0 => format!("{} in both", words::count(Some(mix))),
        (0, 0) => "none".to_owned(),
        (0, export) => format!("{} in the export, none in the mix", words::count(Some(export))),
        (mix, export) => {
            let more = words::signed_count(Some(export as i64 - mix as i64), words::count);
            format!("{more} against the mix's {}", words::count(Some(mix)))
        }
    };
    let [mix, export] = [comparison.mix, comparison.export];
    let rates = [comparison.mix, comparison.export]
        .map(|file| words::frequency(f64::from(file.sample_rate_hz)));
    let mut rows = vec![];
    let rate = if comparison.rate_converted {
        html! { "converted from " (rates[0]) " to " (rates[1]) }
    } else {
        html! { "kept" }
    };
    rows.push(("Sample rate", rate));
    rows.extend(comparison.words.as_ref().map(|words| ("Word", word(words))));
    rows.push(match &comparison.band_limit {
        Some(limit) => ("Spectrum ends at", value(words::hertz(limit.hz), "Hz")),
        None => ("Spectrum", html! { "ends where the mix's does" }),
    });
    if let Some(limit) = &comparison.band_limit {
        rows.push(("… lost above it", value(numbers::level(limit.lost_dbfs), "dBFS of the mix")));
    }
    rows.push(("Overs", html! { (clipped(mix.overs, export.overs)) }));
    rows.push(("Flat tops", html! { (clipped(mix.flat_tops, export.flat_tops)) }));
    rows.extend(damage(comparison).map(|damage| ("Damage if clipped", damage)));
    if let Some(dynamics) = &comparison.dynamics {
        rows.push((
            "Loudest blocks",
            value(words::signed(dynamics.loud_gain_db, 2), "dB against ordinary"),
        ));
        rows.push((
            "Most reduction",
            html! {
                (words::fixed(dynamics.most_reduction_db, 2)) " " span.unit { "dB" } " at "
                (numbers::moment(dynamics.most_reduction_s)) " " span.unit { "min:s" }
            },
        ));
    }
    rows
}

/// What clipping at full scale would add that is audible, where one of the two reaches over it.
fn damage(comparison: &Comparison) -> Option<Markup> {
    let [mix, export] =
        [comparison.levels.mix, comparison.levels.export].map(|levels| levels.damage_dbfs);
    let said = match (mix.finite(), export.finite()) {
        (None, None) => return None,
        (None, Some(_)) if mix.exists() => {
            format!("{} dBFS in the export, none in the mix", numbers::level(export))
        }
        (Some(_), None) if export.exists() => {
            format!("{} dBFS in the mix, none in the export", numbers::level(mix))
        }
        _ => format!(
            "{} dB against the mix's {} dBFS",
            numbers::difference(comparison.levels.change.damage_dbfs),
            numbers::level(mix)
        ),
    };
    Some(html! { (said) })
}

fn word(change: &WordChange) -> Markup {
    let dither = change.dither.map(Dither::word);
    html! {
        (words::bits(change.mix_bits)) " to " (words::bits(Some(change.export_bits)))
        @if let Some(dither) = dither { ", " (dither) }
    }
}

fn residual(comparison: &Comparison) -> Vec<Row> {
    let Some(residual) = &comparison.residual else { return vec![] };
    let peak = html! {
        (numbers::level(residual.peak_dbfs)) " " span.unit { "dBFS" } " at "
        (numbers::moment(residual.peak_s)) " " span.unit { "min:s" }
    };
    vec![
        ("Residual", value(numbers::level(residual.total_dbfs), "dBFS RMS")),
        ("… in the audible band", value(numbers::level(residual.audible_dbfs), "dBFS RMS")),
        ("… where both have sound", value(numbers::level(residual.in_band_dbfs), "dBFS RMS")),
        ("… no filter explains", value(numbers::level(residual.unexplained_dbfs), "dBFS RMS")),
        ("… largest sample", peak),
        ("… against the export", value(numbers::level(residual.relative_db), "dB")),
    ]
}

/// The two files beside each other.
pub(super) fn files(compare: &ComparePage) -> Markup {
    let comparison = compare.comparison;
    let bits = |bits: Option<u32>| bits.map_or_else(|| "–".into(), |bits| format!("{bits} bits"));
    type Cell<'a> = &'a dyn Fn(&file::FileFacts, &Stored) -> String;
    let rows: [(&str, Cell); 10] = [
        ("Format", &|file, _| page::clean(file.format)),
        ("Codec", &|file, _| page::clean(file.codec)),
        ("Sample rate", &|_, stored| {
            format!("{} Hz", words::hertz(f64::from(stored.sample_rate_hz)))
        }),
        ("Channels", &|_, stored| file::channels(stored.channels)),
        ("Length", &|_, stored| words::duration(stored.duration_s)),
        ("Frames", &|_, stored| words::count(Some(stored.frames))),
        ("Word stated", &|_, stored| bits(stored.stated_bits)),
        ("Word used", &|_, stored| bits(stored.used_bits)),
        ("Path", &|file, _| page::clean(file.path)),
        ("Frames that are no audio", &|_, stored| words::count(Some(stored.invalid_frames))),
    ];
    let table = html! {
        table {
            caption {
                "Word used: the grid on which all samples lie; none in floating point and lossy \
                 coding."
            }
            thead { tr {
                th.words scope="col" { "What" }
                th.words scope="col" { "Mix" }
                th.words scope="col" { "Export" }
            } }
            tbody { @for (name, cell) in rows { tr {
                th scope="row" { (name) }
                td.words { (cell(&compare.mix, &comparison.mix)) }
                td.words { (cell(&compare.export, &comparison.export)) }
            } } }
        }
    };
    html! { h3 { "Files" } (wide("Files", &table)) }
}
