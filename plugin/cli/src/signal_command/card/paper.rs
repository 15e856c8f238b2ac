//! A card under way: headings, paragraphs, lists and tables, in lines that any page prints whole.

/// Most characters of a line.
const WIDTH: usize = 96;

/// The card as far as it is written.
pub(super) struct Paper(String);

impl Paper {
    /// A card with a title.
    pub(super) fn new(title: &str) -> Self {
        let mut paper = Self(String::new());
        paper.underlined(title, "=");
        paper
    }

    /// Begins a part.
    pub(super) fn heading(&mut self, heading: &str) {
        self.underlined(heading, "-");
    }

    /// A paragraph.
    pub(super) fn text(&mut self, text: &str) {
        self.wrapped("", text);
        self.0.push('\n');
    }

    /// A list whose order does not matter.
    pub(super) fn points(&mut self, points: &[&str]) {
        for point in points {
            self.wrapped("* ", point);
        }
        self.0.push('\n');
    }

    /// What to do, one after the other.
    pub(super) fn steps(&mut self, steps: &[&str]) {
        for (number, step) in (1..).zip(steps) {
            self.wrapped(&format!("{number}. "), step);
        }
        self.0.push('\n');
    }

    /// Lines as they are, such as a table's or what is typed.
    pub(super) fn lines(&mut self, lines: &[String]) {
        for line in lines {
            self.0.push_str("  ");
            self.0.push_str(line.trim_end());
            self.0.push('\n');
        }
        self.0.push('\n');
    }

    /// The card.
    pub(super) fn finish(self) -> String {
        let mut text = self.0.replace('\u{a0}', " ");
        text.truncate(text.trim_end().len());
        text.push('\n');
        text
    }

    fn underlined(&mut self, words: &str, with: &str) {
        let line = with.repeat(words.chars().count());
        self.0.push_str(&format!("{words}\n{line}\n\n"));
    }

    /// Words in lines, the first behind a sign and the others as far in. What is kept together by
    /// blanks that do not break, such as what is typed, gets ordinary ones.
    fn wrapped(&mut self, sign: &str, words: &str) {
        let indent = " ".repeat(sign.chars().count());
        let mut line = sign.to_owned();
        let mut is_empty = true;
        for word in words.split([' ', '\n']).filter(|word| !word.is_empty()) {
            let longer = line.chars().count() + 1 + word.chars().count() > WIDTH;
            if longer && !is_empty {
                self.0.push_str(&line);
                self.0.push('\n');
                line.clone_from(&indent);
                is_empty = true;
            }
            if !is_empty {
                line.push(' ');
            }
            line.push_str(word);
            is_empty = false;
        }
        self.0.push_str(&line);
        self.0.push('\n');
    }
}

/// What belongs together on one line.
pub(super) fn together(words: &str) -> String {
    words.replace(' ', "\u{a0}")
}
