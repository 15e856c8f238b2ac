//! The colours of the screen, dark and light, and what each of them means. Contrast follows WCAG
//! 2.1, success criteria 1.4.3 (text: 4.5 to 1) and 1.4.11 (graphics: 3 to 1); the tests compute it.

use egui::Color32;

use crate::params::window::Theme;

/// The colours of one theme. A colour never carries a meaning alone: a word, a shape or hatching
/// says the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Palette {
    /// Behind everything.
    pub ground: Color32,
    /// Behind a panel's content.
    pub panel: Color32,
    /// Behind what stands out of a panel: the total of the ledger, a control.
    pub raised: Color32,
    /// Behind a control that is on, or is being touched.
    pub pressed: Color32,
    /// Decorative lines between things that are apart anyway.
    pub rule: Color32,
    /// Lines that carry a meaning: axes, edges of controls.
    pub axis: Color32,
    /// Readings and sentences.
    pub text: Color32,
    /// Headings, units and explanations.
    pub quiet: Color32,
    /// The whole band.
    pub whole: Color32,
    /// The audible band.
    pub audible: Color32,
    /// Hidden content, and what it does to a reading.
    pub hidden: Color32,
    /// Severity: nothing separates meter and ear.
    pub clear: Color32,
    /// Severity: good to know.
    pub note: Color32,
    /// Severity: the meter misleads.
    pub caution: Color32,
    /// Severity: something is broken.
    pub fault: Color32,
}

/// For dim rooms.
pub const DARK: Palette = Palette {
    ground: Color32::from_rgb(0x12, 0x15, 0x19),
    panel: Color32::from_rgb(0x1b, 0x20, 0x26),
    raised: Color32::from_rgb(0x27, 0x2e, 0x36),
    pressed: Color32::from_rgb(0x2d, 0x43, 0x4e),
    rule: Color32::from_rgb(0x35, 0x3e, 0x48),
    axis: Color32::from_rgb(0x84, 0x90, 0x9c),
    text: Color32::from_rgb(0xf2, 0xf4, 0xf6),
    quiet: Color32::from_rgb(0xb4, 0xbe, 0xc8),
    whole: Color32::from_rgb(0xdc, 0xe1, 0xe7),
    audible: Color32::from_rgb(0x5f, 0xd3, 0xe3),
    hidden: Color32::from_rgb(0xf5, 0xa9, 0x5f),
    clear: Color32::from_rgb(0x82, 0xdb, 0x9d),
    note: Color32::from_rgb(0xa6, 0xbf, 0xff),
    caution: Color32::from_rgb(0xf7, 0xcb, 0x5c),
    fault: Color32::from_rgb(0xff, 0x95, 0x8b),
};

/// For bright rooms.
pub const LIGHT: Palette = Palette {
    ground: Color32::from_rgb(0xec, 0xe9, 0xe2),
    panel: Color32::from_rgb(0xfc, 0xfb, 0xf8),
    raised: Color32::from_rgb(0xef, 0xec, 0xe5),
    pressed: Color32::from_rgb(0xc9, 0xde, 0xe1),
    rule: Color32::from_rgb(0xd3, 0xce, 0xc3),
    axis: Color32::from_rgb(0x70, 0x6b, 0x61),
    text: Color32::from_rgb(0x16, 0x1b, 0x20),
    quiet: Color32::from_rgb(0x47, 0x51, 0x5a),
    whole: Color32::from_rgb(0x33, 0x3c, 0x45),
    audible: Color32::from_rgb(0x00, 0x5f, 0x70),
    hidden: Color32::from_rgb(0x94, 0x40, 0x00),
    clear: Color32::from_rgb(0x1a, 0x63, 0x2f),
    note: Color32::from_rgb(0x2a, 0x49, 0xad),
    caution: Color32::from_rgb(0x71, 0x50, 0x00),
    fault: Color32::from_rgb(0xa8, 0x19, 0x11),
};

/// For whoever needs more contrast: at least 7 to 1 for all text (WCAG 2.1, 1.4.6).
pub const CONTRAST: Palette = Palette {
    ground: Color32::from_rgb(0x00, 0x00, 0x00),
    panel: Color32::from_rgb(0x00, 0x00, 0x00),
    raised: Color32::from_rgb(0x1c, 0x1c, 0x1c),
    pressed: Color32::from_rgb(0x0c, 0x2c, 0x42),
    rule: Color32::from_rgb(0x70, 0x70, 0x70),
    axis: Color32::from_rgb(0xd0, 0xd0, 0xd0),
    text: Color32::from_rgb(0xff, 0xff, 0xff),
    quiet: Color32::from_rgb(0xec, 0xec, 0xec),
    whole: Color32::from_rgb(0xff, 0xff, 0xff),
    audible: Color32::from_rgb(0x7c, 0xf2, 0xff),
    hidden: Color32::from_rgb(0xff, 0xbd, 0x7a),
    clear: Color32::from_rgb(0x9c, 0xff, 0xb8),
    note: Color32::from_rgb(0xc4, 0xd6, 0xff),
    caution: Color32::from_rgb(0xff, 0xe0, 0x66),
    fault: Color32::from_rgb(0xff, 0xb0, 0xa8),
};

impl Palette {
    /// The palette of a theme.
    #[must_use]
    pub fn of(theme: Theme) -> &'static Self {
        match theme {
            Theme::Dark => &DARK,
            Theme::Light => &LIGHT,
            Theme::Contrast => &CONTRAST,
        }
    }
}

/// A colour at a part of its strength, to be laid over a background.
#[must_use]
pub fn tint(colour: Color32, strength: f32) -> Color32 {
    colour.gamma_multiply(strength)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance as WCAG 2.1 defines it.
    fn luminance(colour: Color32) -> f64 {
        let linear = |byte: u8| {
            let c = f64::from(byte) / 255.0;
            if c <= 0.03928 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * linear(colour.r()) + 0.7152 * linear(colour.g()) + 0.0722 * linear(colour.b())
    }

    fn contrast(one: Color32, other: Color32) -> f64 {
        let (one, other) = (luminance(one), luminance(other));
        (one.max(other) + 0.05) / (one.min(other) + 0.05)
    }

    /// `over` as it looks on an opaque `ground`, both premultiplied.
    fn blend(over: Color32, ground: Color32) -> Color32 {
        let rest = f64::from(255 - over.a()) / 255.0;
        let mix = |o: u8, g: u8| (f64::from(o) + rest * f64::from(g)).round().min(255.0) as u8;
        Color32::from_rgb(
            mix(over.r(), ground.r()),
            mix(over.g(), ground.g()),
            mix(over.b(), ground.b()),
        )
    }

    fn backgrounds(p: &Palette) -> Vec<(&'static str, Color32)> {
        vec![
            ("ground", p.ground),
            ("panel", p.panel),
            ("raised", p.raised),
            ("pressed", p.pressed),
            ("hatched", blend(tint(p.hidden, super::super::marks::HIDDEN_SHADE), p.panel)),
        ]
    }

    #[test]
    fn black_on_white_has_the_published_contrast() {
        assert!((contrast(Color32::BLACK, Color32::WHITE) - 21.0).abs() < 1e-9);
        assert!(
            (contrast(Color32::WHITE, Color32::from_rgb(0x76, 0x76, 0x76)) - 4.54).abs() < 0.01
        );
    }

    #[test]
    fn every_text_colour_can_be_read_on_every_background() {
        for (theme, p) in [("dark", DARK), ("light", LIGHT), ("contrast", CONTRAST)] {
            let least = if theme == "contrast" { 7.0 } else { 4.5 };
            let texts = [
                ("text", p.text),
                ("quiet", p.quiet),
                ("whole", p.whole),
                ("audible", p.audible),
                ("hidden", p.hidden),
                ("clear", p.clear),
                ("note", p.note),
                ("caution", p.caution),
                ("fault", p.fault),
            ];
            for (text_name, text) in texts {
                for (ground_name, ground) in backgrounds(&p) {
                    let ratio = contrast(text, ground);
                    assert!(
                        ratio >= least,
                        "{theme}: {text_name} on {ground_name}: {ratio:.2} to 1"
                    );
                }
            }
        }
    }

    #[test]
    fn every_line_with_a_meaning_can_be_seen() {
        for (theme, p) in [("dark", DARK), ("light", LIGHT), ("contrast", CONTRAST)] {
            for (name, ground) in [("ground", p.ground), ("panel", p.panel), ("raised", p.raised)] {
                let ratio = contrast(p.axis, ground);
                assert!(ratio >= 3.0, "{theme}: axis on {name}: {ratio:.2} to 1");
            }
        }
    }
}
