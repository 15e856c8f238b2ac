//! The words of each finding: what separates meter and ear, and what to do.

use super::finding::{Code, Finding};

/// Halves closer than this count as equally loud.
const LEVEL_TOLERANCE_DB: f64 = 0.5;
/// Power sum of two equal levels above one of them.
const EQUAL_POWER_SUM_DB: f64 = 10.0 * std::f64::consts::LOG10_2;
/// Share of the energy from which the strongest hidden content is named as the cause.
const LEAST_SHARE: f64 = 0.005;
/// Share of the energy from which further hidden content is named beside it.
const LEAST_FURTHER_SHARE: f64 = 0.05;

/// The finding in plain words.
pub(super) fn of(finding: &Finding) -> String {
    let n = |name: &str| finding.number(name);
    let db = |name: &str| format!("{:.1} dB", n(name).abs());
    match finding.code {
        Code::Silence => "No signal yet.".into(),
        Code::Clean => {
            let clean = "Meter and ear agree: nothing hidden counts.";
            match n("true_room_db") {
                room if room.is_finite() => format!("{clean} There are {room:.1} dB of true room."),
                _ => clean.into(),
            }
        }
        Code::InvalidInput => format!(
            "{} hold values that are no audio (NaN, infinite or absurdly large) and count as \
             silence here: find what makes them ahead of this insert.",
            counted(n("frames"), "frame", "frames")
        ),
        Code::Overs => overs(finding),
        Code::HalvesCancel if n("sum_gain_energy_db") == f64::NEG_INFINITY => {
            "A and B cancel completely: their sum is silent. Turn the polarity of one of them."
                .into()
        }
        Code::HalvesCancel => format!(
            "A and B cancel: their sum lies {} below what independent halves would give. Check the \
             polarity and the delay of one of them.",
            db("sum_gain_energy_db")
        ),
        Code::RoomWithheld => room_withheld(finding),
        Code::RoomOverstated => format!(
            "The box claims {:.1} dB of room, but the waveform that is heard rises {} above the \
             largest stored sample: the true room is {:.1} dB.",
            n("room_db"),
            db("withheld_db"),
            n("true_room_db")
        ),
        Code::OverCeiling => format!(
            "What is heard peaks {} above the ceiling of {} dBTP: turn down by that much.",
            db("true_room_db"),
            signed(n("ceiling_db"))
        ),
        Code::PeaksMislead => peaks_mislead(finding),
        Code::LimiterOnHidden => format!(
            "A limiter at the ceiling would take down {}, {} of it for content that nobody hears.",
            db("whole_db"),
            db("hidden_db")
        ),
        Code::LoudnessReadsHidden => format!(
            "A loudness meter on the whole band reads {:.1} LU too much: {} LUFS, of which {} \
             LUFS are audible.",
            n("over_lu"),
            signed(n("whole_lufs")),
            signed(n("audible_lufs"))
        ),
        Code::LiftLimited if n("lift_allowed_db") <= 0.0 => format!(
            "The target is {} up, and there is no true room to go there without a limiter.",
            db("lift_db")
        ),
        Code::LiftLimited => format!(
            "The target is {} up, of which the true room allows {}.",
            db("lift_db"),
            db("lift_allowed_db")
        ),
        Code::LiftFree => format!(
            "The target is {} up, and the true room of {} allows it.",
            db("lift_db"),
            db("true_room_db")
        ),
        Code::AboveTarget => format!("What is heard is {} above the target.", db("lift_db")),
        Code::HalvesIdentical => identical(finding),
        Code::HiddenTone => format!(
            "A steady tone at {} ({} dBFS) lies outside the audible band.",
            frequency(n("tone_hz")),
            signed(n("tone_dbfs"))
        ),
        Code::Rumble => format!(
            "Below {} there is rumble at {} dBFS, {} of the energy.",
            frequency(n("low_edge_hz")),
            signed(n("below_dbfs")),
            percent(n("below_share"))
        ),
        Code::Dc => format!("The samples have a DC offset of {} dBFS.", signed(n("dc_dbfs"))),
    }
}

fn peaks_mislead(finding: &Finding) -> String {
    let n = |name: &str| finding.number(name);
    let (energy_db, peak_db) = (n("sum_gain_energy_db"), n("sum_gain_peak_db"));
    let sum = if n("level_difference_db").abs() < LEVEL_TOLERANCE_DB {
        // Between equal halves, "above one of them" is what an engineer counts in.
        format!(
            "Their sum is {:.1} dB above one of them in energy, as with independent signals, but \
             {:.1} dB in peaks, nearer to what identical ones would give",
            energy_db + EQUAL_POWER_SUM_DB,
            peak_db + EQUAL_POWER_SUM_DB
        )
    } else {
        format!(
            "Against their power sum, their sum's energy comes out at {} dB, as with independent \
             signals, but its peaks at {} dB, nearer to what identical ones would give",
            signed(energy_db),
            signed(peak_db)
        )
    };
    format!(
        "A and B are independent. {sum}: a sample-peak meter cannot show the difference. Judge \
         this sum by RMS or loudness."
    )
}

fn overs(finding: &Finding) -> String {
    let n = |name: &str| finding.number(name);
    let counted = counted(n("overs"), "over", "overs");
    if n("audible_true_peak_dbtp") < -1.0 {
        format!(
            "{counted}: the bus reaches full scale, though what is heard peaks at {} dBTP. The \
             rest is hidden content: take it out at its source.",
            signed(n("audible_true_peak_dbtp"))
        )
    } else {
        format!(
            "{counted}: the bus reaches full scale ({} dBFS) and clips wherever it becomes a \
             fixed-point file or signal. Turn it down.",
            signed(n("sample_peak_dbfs"))
        )
    }
}

fn room_withheld(finding: &Finding) -> String {
    let n = |name: &str| finding.number(name);
    let (cause, cure) = hidden_cause(finding);
    let claim = match n("room_db") {
        room if room < 0.05 => "The box claims that no room is left".to_string(),
        room => format!("The box claims {room:.1} dB of room"),
    };
    let then = match n("lift_allowed_db") {
        lift if lift >= 0.5 => format!(", then lift the mix by up to {lift:.1} dB"),
        _ => String::new(),
    };
    format!(
        "{claim}, but what is heard leaves {:.1} dB: {:.1} dB are withheld for {cause}. \
         {cure}{then}.",
        n("true_room_db"),
        n("withheld_db")
    )
}

/// What takes the room, strongest first, and what to do about it.
fn hidden_cause(finding: &Finding) -> (String, String) {
    let n = |name: &str| finding.number(name);
    let (low, high) = (frequency(n("low_edge_hz")), frequency(n("high_edge_hz")));
    let mut causes = [
        (n("above_share"), format!("above {high}"), n("tone_above_hz")),
        (n("below_share"), format!("below {low}"), n("tone_below_hz")),
        (n("dc_share"), "a DC offset".to_string(), f64::NAN),
    ];
    causes.sort_by(|x, y| y.0.total_cmp(&x.0));
    let named: Vec<String> = causes
        .iter()
        .zip([LEAST_SHARE, LEAST_FURTHER_SHARE, LEAST_FURTHER_SHARE])
        .filter(|((share, ..), least)| share >= least)
        .enumerate()
        .map(|(index, ((share, what, tone_hz), _))| {
            let of_what = if index == 0 { " of the energy" } else { "" };
            format!("{what} ({}{of_what}{})", percent(*share), tone(*tone_hz))
        })
        .collect();
    let cause = format!("what nobody hears, {}", named.join(" and "));
    match named.len() {
        0 => ("peaks outside the audible band".into(), "Band-limit the bus".into()),
        1 => (cause, "Filter it out".into()),
        2 => (cause, "Filter both out".into()),
        _ => (cause, "Filter all of it out".into()),
    }
}

fn identical(finding: &Finding) -> String {
    let difference_db = finding.number("level_difference_db");
    let levels = if difference_db.abs() < 0.05 {
        String::new()
    } else {
        format!(" at levels {:.1} dB apart", difference_db.abs())
    };
    format!("A and B are one signal{levels}: the bus is mono.")
}

fn tone(hz: f64) -> String {
    if hz.is_finite() { format!(", a tone at {}", frequency(hz)) } else { String::new() }
}

fn counted(count: f64, one: &str, many: &str) -> String {
    if count == 1.0 { format!("1 {one}") } else { format!("{count:.0} {many}") }
}

fn percent(share: f64) -> String {
    let percent = share * 100.0;
    if percent >= 10.0 { format!("{percent:.0} %") } else { format!("{percent:.1} %") }
}

/// A frequency in the unit that it is spoken of in.
fn frequency(hz: f64) -> String {
    if hz >= 1000.0 {
        let khz = hz / 1000.0;
        let whole = (khz - khz.round()).abs() < 0.05;
        if whole { format!("{khz:.0} kHz") } else { format!("{khz:.1} kHz") }
    } else {
        let whole = (hz - hz.round()).abs() < 0.05;
        if whole { format!("{hz:.0} Hz") } else { format!("{hz:.1} Hz") }
    }
}

/// A signed level with one decimal and a true minus sign.
fn signed(db: f64) -> String {
    if db == f64::NEG_INFINITY {
        return "−∞".into();
    }
    let text = format!("{:.1}", db.abs());
    match db {
        _ if text == "0.0" => text,
        db if db < 0.0 => format!("−{text}"),
        _ => format!("+{text}"),
    }
}
