//! The demo scenario: what the ledger says about the ferry mix, against what the mix was built to
//! be.

use std::sync::LazyLock;

use ledgerline_measure::Reading;
use ledgerline_measure::causes::CauseCode;
use ledgerline_tests::readings::{Checks, read};
use ledgerline_tests::signals::ferry::{self, ENGINE_HZ, IDLE_TONE_HZ};
use ledgerline_tests::signals::{Stereo, frames};

const SOURCE: &str = "what the scenario is built to be";

static MIX: LazyLock<Stereo> = LazyLock::new(ferry::play);
static READING: LazyLock<Reading> = LazyLock::new(|| read(&MIX));

#[test]
fn a_meter_sees_no_room_and_3_db_are_audible() {
    let reading = &*READING;
    let mut checks = Checks::of("ferry mix", SOURCE);
    let (whole, audible, room) = (&reading.whole.bus, &reading.audible.bus, &reading.room);
    checks.that(whole.overs == Some(0), "no overs", whole.overs);
    checks.level("audible integrated", audible.integrated_lufs, -23.0, 0.6);
    checks.level("audible true peak", audible.true_peak_dbtp, -4.0, 0.2);
    checks.level("room", room.room_db, 0.0, 0.1);
    checks.level("withheld", room.withheld_db, 3.0, 0.2);
    let prices = reading.causes.iter().map(|cause| cause.price_db).sum::<f64>();
    checks.level("the prices add up", room.withheld_db, prices, 1e-9);
    let limiter = reading.limiter;
    checks.level("a limiter on what is audible", limiter.audible_db, 0.0, 0.0);
    checks.that(limiter.hidden_db.finite() > Some(0.0), "one on what is not", limiter.hidden_db);
    let above = reading.hidden.above_share;
    checks.number("most of the energy is audible", above, 0.3, 0.02);
}

#[test]
fn the_tone_takes_room_from_the_third_quarter_on_and_ever_more() {
    let start = read(&MIX.cut(0..frames(ferry::RATE_HZ, 20.0)));
    let mut checks = Checks::of("ferry mix", SOURCE);
    // Nothing is hidden yet but what the filters ring with.
    checks.level("withheld in the first third", start.room.withheld_db, 0.0, 0.2);
    let above = READING.causes.iter().find(|cause| cause.code == CauseCode::Above);
    let above = above.expect("a price of what lies above");
    checks.number("its tone, Hz", above.tone_hz, IDLE_TONE_HZ, 2.0);
    checks.number("costs 1 dB since", above.grew_s[0], 45.5, 0.1);
    checks.number("costs 2 dB since", above.grew_s[1], 57.5, 0.1);
    checks.that(above.grew_s[2].is_none(), "costs less than 3 dB", above.grew_s);
    let tones = READING.hidden.tones.as_slice();
    let engine = tones.iter().find(|tone| tone.hz < 20.0).map(|tone| tone.hz);
    checks.number("engine, Hz", engine, ENGINE_HZ, 0.5);
}
