//! The colours of a page on a bright screen and on a dark one, and what each of them means. Contrast
//! follows WCAG 2.1, success criteria 1.4.3 (text: 4.5 to 1) and 1.4.11 (graphics: 3 to 1); the
//! tests compute it. The colours are those of the editor.

use std::fmt::Write;

/// Red, green and blue, 0 to 255.
pub(crate) type Rgb = (u8, u8, u8);

/// A colour with a meaning. It never carries the meaning alone: a word, a shape, a dash or hatching
/// says the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Colour {
    /// Name of the custom property in the page's style.
    pub name: &'static str,
    /// On a bright screen and on paper.
    pub light: Rgb,
    /// On a dark screen.
    pub dark: Rgb,
}

const fn colour(name: &'static str, light: u32, dark: u32) -> Colour {
    const fn rgb(hex: u32) -> Rgb {
        ((hex >> 16) as u8, (hex >> 8) as u8, hex as u8)
    }
    Colour { name, light: rgb(light), dark: rgb(dark) }
}

/// Behind everything.
pub(crate) const GROUND: Colour = colour("ground", 0xece9e2, 0x121519);
/// Behind a file's sheet.
pub(crate) const PANEL: Colour = colour("panel", 0xfcfbf8, 0x1b2026);
/// Behind what stands out of a sheet.
pub(crate) const RAISED: Colour = colour("raised", 0xefece5, 0x272e36);
/// Lines between things that are apart anyway.
pub(crate) const RULE: Colour = colour("rule", 0xd3cec3, 0x353e48);
/// Lines that carry a meaning: axes, frames.
pub(crate) const AXIS: Colour = colour("axis", 0x706b61, 0x84909c);
/// Readings and sentences.
pub(crate) const TEXT: Colour = colour("text", 0x161b20, 0xf2f4f6);
/// Headings, units and explanations.
pub(crate) const QUIET: Colour = colour("quiet", 0x47515a, 0xb4bec8);
/// The whole band.
pub(crate) const WHOLE: Colour = colour("whole", 0x333c45, 0xdce1e7);
/// The audible band.
pub(crate) const AUDIBLE: Colour = colour("audible", 0x005f70, 0x5fd3e3);
/// Hidden content, and what it does to a reading.
pub(crate) const HIDDEN: Colour = colour("hidden", 0x944000, 0xf5a95f);
/// Nothing is wrong.
pub(crate) const CLEAR: Colour = colour("clear", 0x1a632f, 0x82db9d);
/// Good to know.
pub(crate) const NOTE: Colour = colour("note", 0x2a49ad, 0xa6bfff);
/// A meter misleads, or nothing can be said.
pub(crate) const CAUTION: Colour = colour("caution", 0x715000, 0xf7cb5c);
/// Something is broken.
pub(crate) const FAULT: Colour = colour("fault", 0xa81911, 0xff958b);

/// Every colour.
const ALL: [Colour; 14] = [
    GROUND, PANEL, RAISED, RULE, AXIS, TEXT, QUIET, WHOLE, AUDIBLE, HIDDEN, CLEAR, NOTE, CAUTION,
    FAULT,
];

/// Grounds are white on paper, and what stands out is a light grey.
const PAPER: [(Colour, &str); 3] = [(GROUND, "#ffffff"), (PANEL, "#ffffff"), (RAISED, "#f2f2f0")];

/// The colours as custom properties: of a bright screen, of a dark one where the reader prefers it,
/// and of paper whatever the reader prefers.
pub(crate) fn style() -> String {
    let mut light = String::new();
    let mut dark = String::new();
    for Colour { name, light: on_light, dark: on_dark } in ALL {
        // Writing to a string cannot fail.
        let _ = write!(light, "--{name}:{};", hex(on_light));
        let _ = write!(dark, "--{name}:{};", hex(on_dark));
    }
    let paper: String =
        PAPER.iter().map(|(colour, white)| format!("--{}:{white};", colour.name)).collect();
    format!(
        ":root{{color-scheme:light;{light}}}\n\
         @media screen and (prefers-color-scheme:dark){{:root{{color-scheme:dark;{dark}}}}}\n\
         @media print{{:root{{{paper}}}}}\n"
    )
}

/// `#rrggbb`, in capitals as the drawing library writes it.
pub(crate) fn hex((red, green, blue): Rgb) -> String {
    format!("#{red:02X}{green:02X}{blue:02X}")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance as WCAG 2.1 defines it.
    fn luminance((red, green, blue): Rgb) -> f64 {
        let linear = |byte: u8| {
            let c = f64::from(byte) / 255.0;
            if c <= 0.03928 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * linear(red) + 0.7152 * linear(green) + 0.0722 * linear(blue)
    }

    fn contrast(one: Rgb, other: Rgb) -> f64 {
        let (one, other) = (luminance(one), luminance(other));
        (one.max(other) + 0.05) / (one.min(other) + 0.05)
    }

    /// `share` of `over` laid on `ground`, as the page tints a ground.
    fn mixed(over: Rgb, ground: Rgb, share: f64) -> Rgb {
        let mix =
            |o: u8, g: u8| (share * f64::from(o) + (1.0 - share) * f64::from(g)).round() as u8;
        (mix(over.0, ground.0), mix(over.1, ground.1), mix(over.2, ground.2))
    }

    /// Every ground that text stands on, by scheme; paper counts as a bright screen.
    fn grounds(of: fn(Colour) -> Rgb) -> Vec<(&'static str, Rgb)> {
        let tinted = mixed(of(HIDDEN), of(PANEL), super::super::chart::SHADE);
        let washed = mixed(of(AUDIBLE), of(PANEL), super::super::chart::WASH);
        vec![
            ("ground", of(GROUND)),
            ("panel", of(PANEL)),
            ("raised", of(RAISED)),
            ("hidden region", tinted),
            ("audible fill", washed),
            ("paper", if luminance(of(PANEL)) > 0.5 { (255, 255, 255) } else { of(PANEL) }),
        ]
    }

    type Scheme = (&'static str, fn(Colour) -> Rgb);
    const SCHEMES: [Scheme; 2] = [("light", |colour| colour.light), ("dark", |colour| colour.dark)];

    #[test]
    fn every_text_colour_can_be_read_on_every_ground() {
        for (scheme, of) in SCHEMES {
            for text in [TEXT, QUIET, WHOLE, AUDIBLE, HIDDEN, CLEAR, NOTE, CAUTION, FAULT] {
                for (name, ground) in grounds(of) {
                    let ratio = contrast(of(text), ground);
                    assert!(ratio >= 4.5, "{scheme}: {} on {name}: {ratio:.2} to 1", text.name);
                }
            }
        }
    }

    #[test]
    fn every_line_with_a_meaning_can_be_seen() {
        for (scheme, of) in SCHEMES {
            for (name, ground) in grounds(of) {
                let ratio = contrast(of(AXIS), ground);
                assert!(ratio >= 3.0, "{scheme}: axis on {name}: {ratio:.2} to 1");
            }
        }
    }
}
