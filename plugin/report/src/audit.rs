//! A report as one HTML file that needs nothing else: no script, no picture, no font from elsewhere.

pub mod rows;

use std::fmt::Write;

use ledgerline_measure::sum_test::audit::{Audit, Polarity, Verdict};

const STYLE: &str = "
:root { color-scheme: light dark; --line: #8888; --bad: #a40000; --good: #0a5c2b; }
@media (prefers-color-scheme: dark) { :root { --bad: #ff9a8a; --good: #7fd6a0; } }
body { font: 16px/1.5 system-ui, sans-serif; max-width: 75rem; margin: 2rem auto; padding: 0 1rem; }
table { border-collapse: collapse; font-variant-numeric: tabular-nums; margin: 1rem 0; }
th, td { padding: .25rem .6rem; border-bottom: 1px solid var(--line); text-align: right; }
th:first-child, td:first-child, td.name { text-align: left; }
.wide { overflow-x: auto; }
.off { color: var(--bad); font-weight: 600; }
.verdict { font-size: 1.3rem; font-weight: 600; }
.faulty, .unsure { color: var(--bad); } .good { color: var(--good); }
";

/// One page for one audit, or for several side by side.
#[must_use]
pub fn page(audits: &[Audit]) -> String {
    let mut page = format!(
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\
         <meta name=\"viewport\" content=\"width=device-width\">\
         <title>Sum test</title><style>{STYLE}</style></head><body>\n<h1>Sum test</h1>\n"
    );
    if audits.len() > 1 {
        comparison(&mut page, audits);
    }
    for audit in audits {
        // Writing to a string cannot fail.
        let _ = section(&mut page, audit);
    }
    page.push_str("</body></html>\n");
    page
}

fn comparison(page: &mut String, audits: &[Audit]) {
    page.push_str("<div class=\"wide\"><table>\n");
    for (heading, cells) in rows::rows(audits) {
        let _ = write!(page, "<tr><th>{}</th>", escape(&heading));
        for cell in cells {
            let _ = write!(page, "<td>{}</td>", escape(&cell));
        }
        page.push_str("</tr>\n");
    }
    page.push_str("</table></div>\n");
}

fn section(page: &mut String, audit: &Audit) -> std::fmt::Result {
    let path = audit.recording.path.as_deref().unwrap_or("Recording");
    let (class, word) = match audit.verdict {
        Verdict::SumsCorrectly => ("good", "Sums correctly"),
        Verdict::Faulty => ("faulty", "Faulty"),
        Verdict::CannotTell => ("unsure", "Cannot tell"),
    };
    writeln!(page, "<h2>{}</h2>", escape(path))?;
    writeln!(page, "<p class=\"verdict {class}\">{word}</p>\n<p>{}</p>", escape(&audit.sentence))?;
    let alignment = audit.alignment;
    writeln!(
        page,
        "<table><tr><th>Test begins</th><td>{:.4} s</td></tr><tr><th>Gain</th><td>{:.2} dB</td>\
         </tr><tr><th>Clock</th><td>{:+.2} ppm</td></tr><tr><th>Polarity</th><td>{}</td></tr>\
         <tr><th>Noise floor, audible</th><td>{:.1} dBFS</td></tr>\
         <tr><th>Sample rate</th><td>{} Hz</td></tr></table>",
        alignment.delay_s,
        alignment.gain_db,
        rows::steady(alignment.drift_ppm),
        match alignment.polarity {
            Polarity::Same => "kept",
            Polarity::Inverted => "turned",
        },
        audit.recording.floor_dbfs["audible"],
        audit.recording.sample_rate_hz
    )?;
    meter(page, audit)?;
    writeln!(
        page,
        "<p>Change against step 1 in dB, measured / expected; \
         <span class=\"off\">!</span> marks what lies outside the tolerance.</p>"
    )?;
    for band in ["whole", "audible"] {
        steps(page, audit, band)?;
    }
    Ok(())
}

fn meter(page: &mut String, audit: &Audit) -> std::fmt::Result {
    let Some(meter) = &audit.meter else { return Ok(()) };
    writeln!(page, "<h3>The mixer's meter</h3><p>{}</p>", escape(&meter.sentence))?;
    page.push_str("<table><tr><th>model</th><th>misfit, dB</th><th>probability, %</th></tr>\n");
    for candidate in &meter.models {
        writeln!(
            page,
            "<tr><td>{}</td><td>{:.2}</td><td>{:.1}</td></tr>",
            candidate.model(),
            candidate.misfit_db,
            100.0 * candidate.probability
        )?;
    }
    page.push_str("</table>\n");
    Ok(())
}

fn steps(page: &mut String, audit: &Audit, band: &str) -> std::fmt::Result {
    write!(page, "<h3>{band} band</h3><div class=\"wide\"><table><tr><th>step</th>")?;
    let names: Vec<&str> = audit.steps[0].bands[band].keys().copied().collect();
    for name in &names {
        write!(page, "<th>{}</th>", name.replace('_', " "))?;
    }
    page.push_str("</tr>\n");
    for step in &audit.steps {
        write!(page, "<tr><td class=\"name\">{} {}</td>", step.step, escape(step.name))?;
        for name in &names {
            let measure = &step.bands[band][name];
            let class = if measure.within { "" } else { " class=\"off\"" };
            write!(page, "<td{class}>{}</td>", rows::cell(measure))?;
        }
        page.push_str("</tr>\n");
    }
    page.push_str("</table></div>\n");
    Ok(())
}

fn escape(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
