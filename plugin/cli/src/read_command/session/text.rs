//! Logs for the terminal, no wider than 100 columns: what each says, and of several which brings
//! which hidden content.

use std::io::{Result, Write};

use ledgerline_measure::{Level, words};
use ledgerline_report::session::{InstanceLog, Least, ROWS, sentences};

use crate::colour::HEADING;
use crate::text::{self, Table};

/// Most characters of an instance's name in the table.
const NAME_CHARACTERS: usize = 40;
/// Most overs that are listed with their moments.
const MOST_OVERS: usize = 8;

/// All logs, in the order given, and of several the comparison before them.
pub(crate) fn print(logs: &[InstanceLog], out: &mut dyn Write) -> Result<()> {
    if logs.len() > 1 {
        compare(logs, out)?;
    }
    for (index, log) in logs.iter().enumerate() {
        if index > 0 || logs.len() > 1 {
            writeln!(out)?;
        }
        print_log(log, out)?;
    }
    Ok(())
}

fn compare(logs: &[InstanceLog], out: &mut dyn Write) -> Result<()> {
    let mut table = Table::new();
    table.heading([
        "instance",
        "",
        "above\ndBFS",
        "below\ndBFS",
        "whole\ndBTP",
        "audible\ndBTP",
        &format!("least\n{}", words::ROOM),
        "overs",
    ]);
    for log in logs {
        table.row([
            text::shortened(log.name(), NAME_CHARACTERS),
            String::new(),
            words::level(log.hidden.above_dbfs, 1),
            words::level(log.hidden.below_dbfs, 1),
            words::level(log.whole.true_peak_dbtp, 1),
            words::level(log.audible.true_peak_dbtp, 1),
            words::level(log.room.db, 1),
            words::count(Some(log.over_count())),
        ]);
    }
    table.print(out)?;
    writeln!(out)?;
    for sentence in sentences(logs) {
        text::print_paragraph(&sentence, out)?;
    }
    for log in logs.iter().filter(|log| !log.hidden.tones.is_empty()) {
        let tones = format!("Steady tones in {}: {}.", log.name(), log.tones());
        text::print_paragraph(&tones, out)?;
    }
    Ok(())
}

fn print_log(log: &InstanceLog, out: &mut dyn Write) -> Result<()> {
    writeln!(out, "{HEADING}{}{HEADING:#}", log.path)?;
    text::print_paragraph(&log.line(), out)?;
    if !log.findings.is_empty() {
        writeln!(out)?;
    }
    for finding in &log.findings {
        let sentence = format!("{} ({} UTC)", finding.sentence, log.moment(finding.at));
        text::print_sentence(finding.severity, &sentence, out)?;
    }
    writeln!(out)?;
    readings(log, out)?;
    overs(log, out)?;
    entries(log, out)
}

fn readings(log: &InstanceLog, out: &mut dyn Write) -> Result<()> {
    let mut table = Table::new();
    table.heading(["readings", "", "whole", "audible"]);
    let level = |level: Level| words::level(level, 2);
    for (name, unit, get) in ROWS {
        table.row([name.into(), unit.into(), level(get(&log.whole)), level(get(&log.audible))]);
    }
    if let Some(last) = log.stretches.last() {
        let name = if log.stretches.len() > 1 {
            "integrated since the latest reset"
        } else {
            "integrated loudness"
        };
        let (whole, audible) = (level(last.whole_lufs), level(last.audible_lufs));
        table.row([name.into(), "LUFS".into(), whole, audible]);
    }
    table.print(out)?;
    writeln!(out)?;

    let mut table = Table::new();
    table.heading(["room and hidden content", "", "level", "first at, UTC"]);
    let mut least = |name: String, least: Least| {
        let at = least.at.map(|at| log.moment(at)).unwrap_or_default();
        table.row([name, "dB".into(), level(least.db), at]);
    };
    least(format!("least {}", words::ROOM), log.room);
    least(format!("least {}", words::AUDIBLE_ROOM), log.audible_room);
    for (name, of) in
        [("above the audible band", log.hidden.above_dbfs), ("below it", log.hidden.below_dbfs)]
    {
        table.row([name.into(), "dBFS".into(), level(of), String::new()]);
    }
    for tone in &log.hidden.tones {
        let name = format!("tone at {}", words::frequency(tone.hz));
        table.row([name, "dBFS".into(), level(tone.dbfs), log.moment(tone.at)]);
    }
    table.print(out)
}

fn overs(log: &InstanceLog, out: &mut dyn Write) -> Result<()> {
    if log.overs_before > 0 {
        let before = words::counted(log.overs_before, "over", "overs");
        writeln!(out, "\n{before} from before the log began.")?;
    }
    let total = log.over_count();
    if total == 0 {
        return Ok(());
    }
    let mut moments: Vec<String> = log
        .overs
        .iter()
        .take(MOST_OVERS)
        .map(|overs| {
            let host = overs.host_s.map(|s| format!(", host {}", words::moment(s, 1)));
            let at = log.moment(overs.at);
            format!("{at} ({}{})", words::count(Some(overs.count)), host.unwrap_or_default())
        })
        .collect();
    let more = log.overs.len() - moments.len();
    if more > 0 {
        moments.push(words::counted(more as u64, "further second", "further seconds"));
    }
    let overs = words::counted(total, "over", "overs");
    writeln!(out)?;
    text::print_paragraph(
        &format!("{overs}, in the seconds before {} UTC.", words::list(&moments)),
        out,
    )
}

fn entries(log: &InstanceLog, out: &mut dyn Write) -> Result<()> {
    if log.entries.is_empty() {
        return Ok(());
    }
    writeln!(out, "\n{HEADING}Entries{HEADING:#}")?;
    for entry in &log.entries {
        let host = entry.host_s[0].map(|s| format!(", host {}", words::moment(s, 1)));
        let heading = format!(
            "{} {} to {} UTC{}, {}",
            entry.number,
            log.moment(entry.from),
            log.moment(entry.to),
            host.unwrap_or_default(),
            entry.opening()
        );
        let sentence = entry.sentence();
        let end = if sentence.is_empty() { "." } else { ":" };
        text::print_paragraph(format!("{heading}{end} {sentence}").trim_end(), out)?;
    }
    Ok(())
}
