//! Styles of the full screen: at most sixteen colours, or none.

use fretlib::text::Role;
use ratatui::style::{Color, Modifier, Style};

/// How the screen may look.
#[derive(Clone, Copy, Debug)]
pub struct Look {
    /// Whether colours may be used. No meaning depends on colour alone.
    pub color: bool,
    /// Whether only ASCII characters may be drawn with.
    pub ascii: bool,
    /// Whether the neck is mirrored.
    pub left_handed: bool,
}

impl Look {
    fn colored(self, color: Color) -> Style {
        if self.color {
            Style::new().fg(color)
        } else {
            Style::new()
        }
    }

    pub fn plain(self) -> Style {
        Style::new()
    }

    pub fn strong(self) -> Style {
        Style::new().add_modifier(Modifier::BOLD)
    }

    pub fn faint(self) -> Style {
        // A dim foreground is hard to read on a light background.
        Style::new()
    }

    /// Strings and inlays: brown or yellow would be invisible on a light background.
    pub fn wood(self) -> Style {
        Style::new()
    }

    /// Frets: as legible as text on light and dark backgrounds.
    pub fn metal(self) -> Style {
        Style::new()
    }

    /// The edge of the frame around a position.
    pub fn frame_sign(self) -> &'static str {
        if self.ascii { "I" } else { "║" }
    }

    /// The present place, in the terminal's own two colours: white on cyan would be faint on a light background.
    pub fn cursor(self) -> Style {
        Style::new().add_modifier(Modifier::REVERSED | Modifier::BOLD)
    }

    /// A sentence in green is faint on a light background; the words say that it is right.
    pub fn right(self) -> Style {
        self.strong()
    }

    pub fn wrong(self) -> Style {
        self.colored(Color::Red).add_modifier(Modifier::BOLD)
    }

    /// The style of a role, as on the other pages.
    pub fn role(self, role: Role) -> Style {
        match role {
            Role::Plain => self.plain(),
            Role::Heading => self.strong(),
            Role::Faint => self.faint(),
            Role::Tonic => self.colored(Color::Green),
            Role::Right => self.right(),
            Role::Outside => self.colored(Color::Magenta),
            // Cyan on white is faint: underlined instead.
            Role::Raised => Style::new().add_modifier(Modifier::UNDERLINED),
            Role::Wrong => self.colored(Color::Red),
        }
    }

    /// A thin and a thick string, a wire, the nut and an inlay.
    pub fn wood_signs(
        self,
    ) -> (
        &'static str,
        &'static str,
        &'static str,
        &'static str,
        &'static str,
    ) {
        if self.ascii {
            ("-", "=", "|", "#", "o")
        } else {
            ("─", "━", "│", "█", "●")
        }
    }

    /// The ink of large type.
    pub fn ink(self) -> char {
        if self.ascii { '#' } else { '█' }
    }
}
