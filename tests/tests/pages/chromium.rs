//! The pages in a browser: nothing complains, nothing is asked for, charts are drawn, and colours
//! follow the reader's scheme and the paper.

use std::path::PathBuf;

use ledgerline_tests::browser::{Look, Page};
use ledgerline_tests::folder::Folder;
use serde_json::Value;

use super::fixtures::pages;

const SCREEN: Look = Look { width: 1100, dark: false, print: false };
const LOOKS: [(&str, Look); 4] = [
    ("light", SCREEN),
    ("dark", Look { dark: true, ..SCREEN }),
    ("phone", Look { width: 375, ..SCREEN }),
    ("paper", Look { width: 690, dark: true, print: true }),
];

/// Names a folder in which pages, their pictures and their prints are left to be looked at.
const KEEP_VARIABLE: &str = "LEDGERLINE_PAGES";

/// Where to leave what there is to look at, if anywhere.
fn kept() -> Option<PathBuf> {
    std::env::var_os(KEEP_VARIABLE).map(PathBuf::from)
}

fn keep(name: &str, bytes: &[u8]) {
    if let Some(folder) = kept() {
        std::fs::write(folder.join(name), bytes).expect("a folder that is there");
    }
}

/// The pages as files.
fn written(folder: &Folder) -> Vec<(&'static str, PathBuf)> {
    let file = |(name, page): &(&'static str, String)| {
        (*name, folder.file(&format!("{name}.html"), page.as_bytes()))
    };
    pages().iter().map(file).collect()
}

#[test]
#[ignore = "needs Chromium"]
fn no_page_complains_or_asks_for_anything_but_itself() {
    let folder = Folder::new("pages-quiet");
    for (name, file) in written(&folder) {
        let mut page = Page::open(&file, SCREEN);
        for (_, look) in LOOKS {
            page.look(look);
            page.picture();
        }
        assert_eq!(page.complaints(), Vec::<String>::new(), "{name}");
        assert_eq!(page.requests(), [format!("file://{}", file.display())], "{name}");
    }
}

#[test]
#[ignore = "needs Chromium"]
fn a_page_that_asks_and_complains_is_found_out() {
    let folder = Folder::new("pages-loud");
    let file = folder.join("loud.html");
    let loud =
        "<!doctype html><title>t</title><img src='missing.png'><script>console.error(1)</script>";
    std::fs::write(&file, loud).expect("room for a page");
    let mut page = Page::open(&file, SCREEN);
    assert_eq!(page.requests().len(), 2);
    assert!(!page.complaints().is_empty());
}

#[test]
#[ignore = "needs Chromium"]
fn charts_are_drawn_in_every_look() {
    let folder = Folder::new("pages-drawn");
    for (name, file) in written(&folder).into_iter().filter(|(name, _)| *name != "none") {
        let mut page = Page::open(&file, SCREEN);
        keep(&format!("{name}.html"), &std::fs::read(&file).expect("the page"));
        keep(&format!("{name}.pdf"), &page.printed());
        for (look_name, look) in LOOKS {
            page.look(look);
            let picture = page.picture();
            keep(&format!("{name}-{look_name}.png"), &picture);
            let picture = image::load_from_memory(&picture).expect("a picture").to_rgb8();
            let charts = page.evaluate(
                "[...document.querySelectorAll('svg.chart')].map(chart => { \
                   const box = chart.getBoundingClientRect(), frame = chart.parentElement.getBoundingClientRect(); \
                   return [box.x, box.y + scrollY, Math.min(box.width, frame.width), box.height].map(Math.round); })",
            );
            for chart in charts.as_array().expect("charts") {
                let [x, y, width, height] =
                    [0, 1, 2, 3].map(|i| chart[i].as_u64().expect("a place") as u32);
                let ground = *picture.get_pixel(x + 1, y + height - 1);
                let drawn = (x..(x + width).min(picture.width()))
                    .flat_map(|x| (y..y + height).map(move |y| (x, y)))
                    .filter(|&(x, y)| *picture.get_pixel(x, y) != ground)
                    .count();
                let share = drawn as f64 / f64::from(width * height);
                // Grid and labels alone cover more than this.
                assert!(share > 0.01, "{name}, {look_name}: {share:.4} of a chart is drawn");
            }
        }
    }
}

#[test]
#[ignore = "needs Chromium"]
fn every_text_can_be_read_on_its_ground_in_every_look() {
    let folder = Folder::new("pages-contrast");
    for (name, file) in written(&folder) {
        let mut page = Page::open(&file, SCREEN);
        for (look_name, look) in LOOKS {
            page.look(look);
            let worst = page.evaluate(WORST_CONTRAST);
            let ratio = worst["ratio"].as_f64().expect("a page has text");
            // WCAG 2.1, success criterion 1.4.3.
            assert!(ratio >= 4.5, "{name}, {look_name}: {worst}");
        }
    }
}

/// The text whose contrast with the ground behind it is least.
const WORST_CONTRAST: &str = r"(() => {
    const parse = colour => (colour.match(/[\d.]+/g) || []).map(Number);
    const light = ([r, g, b]) => [r, g, b].map(v => v / 255)
        .map(c => c <= 0.03928 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4)
        .reduce((sum, c, i) => sum + c * [0.2126, 0.7152, 0.0722][i], 0);
    const ground = element => {
        for (let at = element; at; at = at.parentElement) {
            const colour = parse(getComputedStyle(at).backgroundColor);
            if (colour.length === 3 || colour[3] === 1) return colour;
        }
        return [255, 255, 255];
    };
    let worst = { ratio: 99 };
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walk.nextNode()) {
        const element = walk.currentNode.parentElement;
        if (!walk.currentNode.data.trim() || element.closest('title, desc, style')) continue;
        const style = getComputedStyle(element);
        const ink = parse(element instanceof SVGElement ? style.fill : style.color);
        const [one, other] = [light(ink), light(ground(element))];
        const ratio = (Math.max(one, other) + 0.05) / (Math.min(one, other) + 0.05);
        if (ratio < worst.ratio) worst = { ratio, text: walk.currentNode.data };
    }
    return worst;
})()";

#[test]
#[ignore = "needs Chromium"]
fn colours_follow_the_scheme_and_paper_is_white() {
    let folder = Folder::new("pages-scheme");
    let (_, file) = written(&folder).swap_remove(0);
    let mut page = Page::open(&file, SCREEN);
    let mut seen = vec![];
    for (_, look) in LOOKS {
        page.look(look);
        seen.push(page.evaluate(
            "[getComputedStyle(document.body).backgroundColor, \
              getComputedStyle(document.querySelector('.sheet')).backgroundColor, \
              getComputedStyle(document.querySelector('.s-audible')).stroke]",
        ));
    }
    let [light, dark, phone, paper] = &seen[..] else { panic!("four looks") };
    assert_eq!(light, phone);
    for part in 0..3 {
        assert_ne!(light[part], dark[part]);
    }
    assert_eq!([&paper[0], &paper[1]], ["rgb(255, 255, 255)", "rgb(255, 255, 255)"]);
    assert_eq!(paper[2], light[2], "paper takes the inks of a bright screen");
}

#[test]
#[ignore = "needs Chromium"]
fn nothing_is_wider_than_a_telephone_or_a_sheet_of_paper() {
    let folder = Folder::new("pages-width");
    for (name, file) in written(&folder) {
        let mut page = Page::open(&file, SCREEN);
        for (look_name, look) in LOOKS {
            page.look(look);
            let width = page.evaluate("document.scrollingElement.scrollWidth");
            assert_eq!(width, Value::from(look.width), "{name}, {look_name}");
            if look_name == "phone" {
                // A ledger is wider than that, and scrolls in its own frame.
                let scrolled = page.evaluate(
                    "[...document.querySelectorAll('.ledger')].map(ledger => { \
                       const frame = ledger.closest('.wide'); frame.scrollLeft = 50; \
                       return frame.scrollLeft; })",
                );
                let scrolled = scrolled.as_array().expect("ledgers");
                assert!(
                    scrolled.iter().all(|by| by.as_f64() == Some(50.0)),
                    "{name}: {scrolled:?}"
                );
            }
        }
        // What scrolls on a screen must not be cut on paper.
        let cut = page.evaluate(
            "[...document.querySelectorAll('.wide')].filter(e => e.checkVisibility() && \
             e.scrollWidth > e.clientWidth).map(e => e.getAttribute('aria-label'))",
        );
        assert_eq!(cut, Value::Array(vec![]), "{name} on paper");
    }
}

#[test]
#[ignore = "needs Chromium"]
fn each_file_begins_on_a_sheet_of_its_own_and_no_chart_is_cut() {
    let folder = Folder::new("pages-print");
    let (_, file) = written(&folder).into_iter().find(|(name, _)| *name == "several").expect("it");
    let mut page = Page::open(&file, SCREEN);
    let pdf = page.printed();
    assert!(pdf.starts_with(b"%PDF"));
    // The table of all files, and three files.
    let text = String::from_utf8_lossy(&pdf);
    let sheets = text.matches("/Type /Page\n").count();
    assert!(sheets >= 4, "{sheets} sheets");
    page.look(LOOKS[3].1);
    let kept = page.evaluate(
        "[...document.querySelectorAll('figure')].map(f => \
         [getComputedStyle(f).breakInside, f.getBoundingClientRect().height])",
    );
    for figure in kept.as_array().expect("figures") {
        assert_eq!(figure[0], "avoid");
        // A4 less the margins, in CSS pixels.
        assert!(figure[1].as_f64().expect("a height") < 1_017.0);
    }
    let breaks = page.evaluate(
        "[...document.querySelectorAll('.sheet')].map(s => getComputedStyle(s).breakBefore)",
    );
    assert_eq!(breaks, serde_json::json!(["auto", "page", "page", "page"]));
}
