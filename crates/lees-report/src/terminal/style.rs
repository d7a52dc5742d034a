//! How the text may look.

/// What the terminal can show; the caller finds out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Style {
    /// Whether colour is wanted. Colour never carries a meaning that the words don't.
    pub color: bool,
    /// Columns to fill.
    pub width: usize,
    /// Whether characters beyond ASCII can be shown.
    pub unicode: bool,
}

impl Default for Style {
    /// Plain text, 100 columns.
    fn default() -> Self {
        Self { color: false, width: 100, unicode: true }
    }
}

/// What a piece of text is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Tone {
    #[default]
    Plain,
    Strong,
    Good,
    Bad,
    Open,
    Quiet,
}

impl Tone {
    const fn code(self) -> &'static str {
        match self {
            Self::Plain => "",
            Self::Strong => "1",
            Self::Good => "1;34",
            Self::Bad => "1;31",
            Self::Open => "1;33",
            Self::Quiet => "2",
        }
    }
}

impl Style {
    /// The least width that is laid out for; narrower terminals wrap themselves.
    pub(super) const NARROWEST: usize = 40;

    pub(super) fn columns(&self) -> usize {
        self.width.max(Self::NARROWEST)
    }

    pub(super) fn paint(&self, text: &str, tone: Tone) -> String {
        if !self.color || tone == Tone::Plain || text.trim().is_empty() {
            return self.plain(text);
        }
        format!("\u{1b}[{}m{}\u{1b}[0m", tone.code(), self.plain(text))
    }

    /// The text in the characters the terminal has.
    pub(super) fn plain(&self, text: &str) -> String {
        if self.unicode { text.to_owned() } else { text.chars().map(ascii).collect() }
    }

    pub(super) const fn rule(&self) -> char {
        if self.unicode { '─' } else { '-' }
    }
}

fn ascii(c: char) -> char {
    match c {
        c if c.is_ascii() => c,
        '─' | '–' | '—' | '−' | '‐' | '‑' => '-',
        'δ' => 'd',
        '×' => 'x',
        '·' => '.',
        '’' | '‘' | '′' => '\'',
        '“' | '”' => '"',
        '\u{a0}' | '\u{2009}' => ' ',
        _ => '?',
    }
}
