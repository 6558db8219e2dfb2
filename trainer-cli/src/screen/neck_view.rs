//! The neck as the player sees it: wires at true distances, thick and thin strings, inlays.

use fretlib::neck::{Fret, Inlay, Instrument, NeckLayout, Place, Position, StringNumber};
use fretlib::text::{NeckMark, Role};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};

use super::look::Look;

/// The geometry of the neck on the screen, for drawing and for mapping clicks to places.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct NeckView {
    area: Rect,
    /// Columns of the wires, from the nut or the wire before the first fret shown; ascending, before mirroring.
    wires: Vec<u16>,
    /// The frets shown, and which way round the neck is.
    layout: NeckLayout,
    strings: u8,
    row_step: u16,
}

/// The columns left of the nut: a string's name and the place of an open note.
const HEAD: u16 = 9;
/// The narrowest fret in which a degree with its signs can be read.
const NARROWEST: f64 = 5.0;

impl NeckView {
    /// Lays the neck out in an area: all of it if it fits, else the part around a position.
    pub fn new(
        area: Rect,
        instrument: &Instrument,
        around: Option<Position>,
        left_handed: bool,
    ) -> NeckView {
        let strings = instrument.strings().len() as u8;
        let last_fret = instrument.highest_fret().get();
        let room = f64::from(area.width.saturating_sub(HEAD + 1));
        let distance = |fret: u8| Fret::new(fret).map_or(0.0, |fret| fret.distance_from_nut(1.0));
        let narrowest = |first: u8, last: u8| {
            let length = distance(last) - distance(first - 1);
            room * (distance(last) - distance(last - 1)) / length
        };
        // The hand and one fret on either side are always shown, then as many more frets on both sides as stay
        // readable.
        let hand = around.map_or(1, Position::get);
        let mut first = hand.saturating_sub(2).clamp(1, last_fret);
        let mut last = (hand + 5).clamp(first, last_fret);
        loop {
            let before = (first, last);
            if first > 1 && narrowest(first - 1, last) >= NARROWEST {
                first -= 1;
            }
            if last < last_fret && narrowest(first, last + 1) >= NARROWEST {
                last += 1;
            }
            if before == (first, last) {
                break;
            }
        }
        let start = distance(first - 1);
        let length = distance(last) - start;
        let wires = (first - 1..=last)
            .map(|fret| HEAD + (room * (distance(fret) - start) / length).round() as u16)
            .collect();
        let gaps = u16::from(strings - 1).max(1);
        NeckView {
            area,
            wires,
            layout: NeckLayout::frets(instrument, first..=last, around).mirrored(left_handed),
            strings,
            row_step: NeckView::row_step(gaps, area.height),
        }
    }

    /// The rows of a neck, at most `room`: one for the position above, one for the numbers below, and wood between the
    /// strings.
    pub fn height(instrument: &Instrument, room: u16) -> u16 {
        let gaps = (instrument.strings().len() as u16 - 1).max(1);
        NeckView::row_step(gaps, room) * gaps + 3
    }

    /// The rows from one string to the next.
    fn row_step(gaps: u16, room: u16) -> u16 {
        (room.saturating_sub(3) / gaps).clamp(1, 4)
    }

    /// The first fret that is shown beside the open strings.
    fn first(&self) -> u8 {
        let stopped = self.layout.stopped().first();
        stopped.map_or(1, |column| column.fret.get())
    }

    fn last(&self) -> u8 {
        let stopped = self.layout.stopped().last();
        stopped.map_or(1, |column| column.fret.get())
    }

    /// A column of the neck as a column of the screen: mirrored for a left-handed player.
    fn column(&self, column: u16) -> u16 {
        if self.layout.is_left_handed() {
            self.area.right().saturating_sub(1 + column)
        } else {
            self.area.x + column
        }
    }

    fn row(&self, string: u8) -> u16 {
        self.area.y + 1 + (u16::from(string) - 1) * self.row_step
    }

    /// The middle of a place, as a column before mirroring; `None` when it is not shown.
    fn middle(&self, fret: u8) -> Option<u16> {
        if fret == 0 {
            return (self.layout.is_at_nut()).then_some(HEAD - 4);
        }
        let index = usize::from(fret.checked_sub(self.first())?);
        let (left, right) = (self.wires.get(index)?, self.wires.get(index + 1)?);
        Some((left + right).div_ceil(2))
    }

    /// The columns of the wires around the four frets of a position; `None` when they are not all shown.
    fn frame(&self, position: Position) -> Option<(u16, u16)> {
        let left = usize::from(position.get().checked_sub(self.first())?);
        let right = (left + 4).min(self.wires.len() - 1);
        Some((*self.wires.get(left)?, *self.wires.get(right)?))
    }

    /// The place under a column and row of the screen.
    pub fn place_at(&self, column: u16, row: u16) -> Option<Place> {
        let down = row.checked_sub(self.area.y + 1)?;
        // The row of wood under a string counts as that string.
        let string = StringNumber::new((down / self.row_step) as u8 + 1).ok()?;
        if string.get() > self.strings {
            return None;
        }
        let along = if self.layout.is_left_handed() {
            (self.area.right()).checked_sub(1 + column)?
        } else {
            column.checked_sub(self.area.x)?
        };
        if along < self.wires[0] {
            return (self.layout.is_at_nut()).then_some(Place {
                string,
                fret: Fret::OPEN,
            });
        }
        let index = self.wires.iter().rposition(|wire| *wire <= along)?;
        let fret = self.first() + index as u8;
        if fret > self.last() {
            return None;
        }
        let fret = Fret::new(fret).ok()?;
        Some(Place { string, fret })
    }

    /// Draws wood, wires, strings, inlays and numbers; then the marks, and the cursor.
    pub fn draw(
        &self,
        buffer: &mut Buffer,
        look: &Look,
        instrument: &Instrument,
        framed: Option<Position>,
        marks: &[(NeckMark, bool)],
        cursor: Option<Place>,
    ) {
        let put = |buffer: &mut Buffer, column: u16, row: u16, text: &str, style: Style| {
            let length = text.chars().count() as u16;
            let from = if self.layout.is_left_handed() {
                self.column(column + length - 1)
            } else {
                self.column(column)
            };
            if row < self.area.bottom() && from < buffer.area.right() {
                buffer.set_stringn(
                    from,
                    row,
                    text,
                    usize::from(buffer.area.right() - from),
                    style,
                );
            }
        };
        let (thin, thick, wire, nut, dot) = look.wood_signs();
        let end = *self.wires.last().unwrap_or(&HEAD);
        let frame = framed.and_then(|position| self.frame(position));
        for string in 1..=self.strings {
            let row = self.row(string);
            let name = instrument.strings()[usize::from(string) - 1]
                .class()
                .to_string();
            put(buffer, 0, row, &format!("{string} {name:<3}"), look.faint());
            let is_wound = StringNumber::new(string).is_ok_and(|it| instrument.is_wound(it));
            let sign = if is_wound { thick } else { thin };
            for column in self.wires[0]..=end {
                put(buffer, column, row, sign, look.wood());
            }
            for (index, column) in self.wires.iter().enumerate() {
                let is_nut = index == 0 && self.layout.is_at_nut();
                put(
                    buffer,
                    *column,
                    row,
                    if is_nut { nut } else { wire },
                    look.metal(),
                );
            }
            let wood = if string < self.strings {
                1..self.row_step
            } else {
                1..1
            };
            for below in wood {
                for (index, column) in self.wires.iter().enumerate() {
                    let is_nut = index == 0 && self.layout.is_at_nut();
                    put(
                        buffer,
                        *column,
                        row + below,
                        if is_nut { nut } else { wire },
                        look.metal(),
                    );
                }
            }
        }
        if let (Some(position), Some((left, right))) = (framed, frame) {
            let edge = look.frame_sign();
            for row in self.row(1)..=self.row(self.strings) {
                for column in [left, right] {
                    put(buffer, column, row, edge, look.strong());
                }
            }
            let name = format!("position {position}");
            let half = name.chars().count() as u16 / 2;
            let middle = ((left + right) / 2).saturating_sub(half).max(HEAD);
            put(buffer, middle, self.area.y, &name, look.strong());
        }
        // Inlays lie in the wood between the strings, numbers beneath the neck.
        let below = self.row(self.strings) + 1;
        for column in self.layout.stopped() {
            let Some(middle) = self.middle(column.fret.get()) else {
                continue;
            };
            let number = column.fret.to_string();
            let is_inlaid = column.inlay != Inlay::None;
            let style = if is_inlaid {
                look.strong()
            } else {
                look.plain()
            };
            put(buffer, middle, below, &number, style);
            if is_inlaid && self.row_step > 1 {
                let gaps: &[u8] = match column.inlay {
                    Inlay::Two => &[2, 4],
                    Inlay::None | Inlay::One => &[3],
                };
                for gap in gaps.iter().filter(|gap| **gap < self.strings) {
                    put(
                        buffer,
                        middle,
                        self.row(*gap) + self.row_step / 2,
                        dot,
                        look.wood(),
                    );
                }
            }
        }
        for (mark, is_answer) in marks {
            let Some(middle) = self.middle(mark.place.fret.get()) else {
                continue;
            };
            let mut label = mark.mark.sign(&mark.label);
            if *is_answer {
                label = format!(">{label}<");
            }
            let left = middle.saturating_sub(label.chars().count() as u16 / 2);
            let style = if *is_answer {
                look.role(mark.mark.role)
                    .add_modifier(Modifier::REVERSED | Modifier::BOLD)
            } else {
                look.role(Role::Plain)
            };
            put(
                buffer,
                left,
                self.row(mark.place.string.get()),
                &label,
                style,
            );
        }
        if let Some(place) = cursor
            && let Some(middle) = self.middle(place.fret.get())
        {
            let there = marks.iter().find(|(mark, _)| mark.place == place);
            let label = there.map_or("?", |(mark, _)| mark.label.as_str());
            let label = format!("({label})");
            let left = middle.saturating_sub(label.chars().count() as u16 / 2);
            let row = self.row(place.string.get());
            put(buffer, left, row, &label, look.cursor());
        }
    }
}

#[cfg(test)]
mod tests {
    use fretlib::neck::InstrumentSpec;

    use super::*;

    fn wood(width: u16, height: u16, left_handed: bool) -> NeckView {
        let area = Rect::new(2, 3, width, height);
        NeckView::new(
            area,
            &Instrument::default(),
            Some(Position::FIRST),
            left_handed,
        )
    }

    #[test]
    fn a_click_in_the_middle_of_a_place_finds_it() {
        for left_handed in [false, true] {
            let wood = wood(100, 12, left_handed);
            for string in 1..=6 {
                for fret in 0..=wood.last() {
                    let column = wood.column(wood.middle(fret).unwrap());
                    let place = wood.place_at(column, wood.row(string)).unwrap();
                    assert_eq!((place.string.get(), place.fret.get()), (string, fret));
                }
            }
            assert_eq!(wood.place_at(50, 2), None);
            assert_eq!(wood.place_at(50, 30), None);
        }
    }

    #[test]
    fn frets_grow_narrower_and_a_wide_screen_shows_them_all() {
        let whole = wood(300, 12, false);
        assert_eq!((whole.first(), whole.last()), (1, 22));
        let widths: Vec<u16> = whole
            .wires
            .windows(2)
            .map(|pair| pair[1] - pair[0])
            .collect();
        // Rounding to columns may swap neighbours by one.
        assert!(
            widths.windows(2).all(|pair| pair[1] <= pair[0] + 1),
            "{widths:?}"
        );
        assert!(widths[0] > 3 * widths[21]);
        let part = wood(76, 12, false);
        assert!(part.last() < 22 && part.last() >= 6);
    }

    #[test]
    fn inlays_follow_the_wood_under_a_capo_whichever_way_the_neck_lies() {
        let spec = Instrument::default().build().clone();
        for (capo, left_handed) in [(0, false), (2, false), (2, true)] {
            let instrument = Instrument::new(InstrumentSpec {
                capo,
                ..spec.clone()
            })
            .unwrap();
            let area = Rect::new(0, 0, 200, 16);
            let view = NeckView::new(area, &instrument, Some(Position::FIRST), left_handed);
            let mut buffer = Buffer::empty(area);
            let look = Look {
                color: false,
                ascii: true,
                left_handed,
            };
            view.draw(&mut buffer, &look, &instrument, None, &[], None);
            let (.., dot) = look.wood_signs();
            for fret in view.first()..=view.last() {
                let column = view.column(view.middle(fret).unwrap());
                let dots =
                    (area.y..area.bottom()).filter(|row| buffer[(column, *row)].symbol() == dot);
                let inlay = instrument.inlay(Fret::new(fret).unwrap());
                assert_eq!(dots.count(), inlay.dots(), "fret {fret}, capo {capo}");
            }
        }
    }
}
