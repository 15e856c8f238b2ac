//! Every parameter as a table shows it.

use nice_plug::prelude::Param;

use super::LedgerlineParams;

/// A parameter for readers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    /// What hosts call it.
    pub name: String,
    /// What projects and automation know it by.
    pub id: &'static str,
    /// What it can be: a range, or every choice.
    pub values: String,
    /// What it is until somebody changes it.
    pub default: String,
}

impl LedgerlineParams {
    /// Every parameter, in the order in which hosts list them.
    #[must_use]
    pub fn listed(&self) -> Vec<Listed> {
        // Every field by name: a parameter that is missing in the list does not compile.
        let Self {
            target_kind,
            target,
            ceiling,
            low_edge,
            high_edge,
            halves,
            rms_window,
            rms_reference,
            peak_hold,
            true_peak,
            clip_at,
            listen,
            sum_test,
            feed_level,
            feed_offline,
            reset,
            mark,
            log,
            bypass,
            your_meter,
            your_meter_band,
            your_meter_offset,
            feeds_play,
            loop_pair,
            marker: _,
            window: _,
            meter: _,
        } = self;
        vec![
            list("target_kind", target_kind),
            list("target", target),
            list("ceiling", ceiling),
            list("low_edge", low_edge),
            list("high_edge", high_edge),
            list("halves", halves),
            list("rms_window", rms_window),
            list("rms_reference", rms_reference),
            list("peak_hold", peak_hold),
            list("true_peak", true_peak),
            list("clip_at", clip_at),
            list("listen", listen),
            list("sum_test", sum_test),
            list("feed_level", feed_level),
            list("feed_offline", feed_offline),
            list("reset", reset),
            list("mark", mark),
            list("log", log),
            list("bypass", bypass),
            list("your_meter", your_meter),
            list("your_meter_band", your_meter_band),
            list("your_meter_offset", your_meter_offset),
            list("feeds_play", feeds_play),
            list("loop_pair", loop_pair),
        ]
    }
}

/// Choices that a table names one by one; a parameter of more steps is a range.
const MOST_CHOICES: usize = 8;

fn list(id: &'static str, param: &impl Param) -> Listed {
    let text = |normalized: f32| typeset(&param.normalized_value_to_string(normalized, true));
    let values = match param.step_count() {
        Some(steps) if steps < MOST_CHOICES => {
            let choices = (0..=steps).map(|step| text(step as f32 / steps as f32));
            choices.collect::<Vec<_>>().join("; ")
        }
        _ => format!("{} to {}", text(0.0), text(1.0)),
    };
    Listed {
        name: param.name().to_owned(),
        id,
        values,
        default: text(param.default_normalized_value()),
    }
}

/// The text with a minus in place of a hyphen before a number.
fn typeset(text: &str) -> String {
    match text.strip_prefix('-') {
        Some(rest) if rest.starts_with(|c: char| c.is_ascii_digit()) => format!("−{rest}"),
        _ => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use nice_plug::prelude::Params;

    use super::*;

    #[test]
    fn ids_and_their_order_are_the_hosts() {
        let params = LedgerlineParams::new(Arc::default(), Arc::default());
        let listed: Vec<_> = params.listed().iter().map(|listed| listed.id.to_owned()).collect();
        let hosts: Vec<_> = params.param_map().into_iter().map(|(id, _, _)| id).collect();
        assert_eq!(listed, hosts);
    }
}
