//! The loop where somebody expects the test.

use ledgerline_measure::sum_test::audit::live::{LiveError, LiveTest};
use ledgerline_measure::sum_test::{Feed, NoiseKind, Pattern, Schedule};

#[test]
fn a_bus_that_waits_for_the_test_does_not_judge_the_loop() {
    let frames = Schedule::new(48_000).expect("a schedule").length_frames() as usize;
    for noise in NoiseKind::ALL {
        let pattern = Pattern::new(48_000, noise, 6.0).expect("a pattern");
        let (mut bus, mut two) = (vec![0.0; frames], vec![0.0; frames]);
        pattern.fill(Feed::One, 0, -20.0, &mut bus);
        pattern.fill(Feed::Two, 0, -20.0, &mut two);
        for (bus, two) in bus.iter_mut().zip(two) {
            *bus += two;
        }
        let mut live = LiveTest::new(48_000).expect("a rate at which the test plays");
        live.process(0, &[&bus]);
        let error = live.conclude(-20.0).expect_err("a verdict on the loop");
        assert_eq!(error, LiveError::NotTheTest, "{noise:?}");
        assert!(error.to_string().contains("loop"), "{error}");
    }
}
