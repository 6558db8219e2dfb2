//! Melody and voicings as columns of tablature, a column for each stop, broken at whole bars where they fit.

use super::choose_state::StopView;

/// A row of bars.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct VoicedStrip {
    /// Columns of the bar lines, and the number of the bar that begins there.
    pub bars: Vec<(u16, String)>,
    /// Stops and their columns.
    pub stops: Vec<(usize, u16)>,
    /// Columns it takes, without the bar line at its end.
    pub width: u16,
}

/// Columns of the bar line and the space behind it.
const MARGIN: u16 = 2;

/// The rows of bars that are shown together: the page on which the stop `current` is.
pub fn page_of_bars(
    stops: &[StopView],
    current: usize,
    width: u16,
    rows: usize,
) -> Vec<VoicedStrip> {
    let mut page: Vec<VoicedStrip> = Vec::new();
    let mut row = VoicedStrip::default();
    let mut first = 0;
    while first < stops.len() {
        let rest = stops[first + 1..].iter();
        let next = first + 1 + rest.take_while(|stop| !stop.begins_bar).count();
        let bar = &stops[first..next];
        let needed = MARGIN + bar.iter().map(room_of).sum::<u16>();
        let is_over = row.width + needed > width && !row.stops.is_empty();
        if is_over && is_turned(&mut page, &mut row, current, rows) {
            return page;
        }
        row.bars.push((row.width, bar[0].bar.clone()));
        row.width += MARGIN;
        for (index, stop) in (first..next).zip(bar) {
            // A bar wider than the screen goes on in the next row.
            if row.width + room_of(stop) > width && !row.stops.is_empty() {
                if is_turned(&mut page, &mut row, current, rows) {
                    return page;
                }
                row.width = MARGIN;
            }
            row.stops.push((index, row.width));
            row.width += room_of(stop);
        }
        first = next;
    }
    page.push(row);
    page
}

/// Ends a row; true when the page is full and has the stop that is looked for, else a full page is turned.
fn is_turned(
    page: &mut Vec<VoicedStrip>,
    row: &mut VoicedStrip,
    current: usize,
    rows: usize,
) -> bool {
    page.push(std::mem::take(row));
    if page.len() < rows {
        return false;
    }
    let has_current = page
        .iter()
        .flat_map(|row| &row.stops)
        .any(|(stop, _)| *stop == current);
    if !has_current {
        page.clear();
    }
    has_current
}

/// Columns that a stop needs: the widest of what is written in it, and two to the next.
fn room_of(stop: &StopView) -> u16 {
    let figures = stop
        .figures
        .iter()
        .flatten()
        .map(|figure| figure.chars().count());
    let chord = stop
        .chord
        .as_ref()
        .map_or(0, |chord| chord.chars().count().saturating_sub(1));
    let widest = figures.chain([stop.name.chars().count(), chord, 1]).max();
    widest.unwrap_or(1) as u16 + 2
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_stop_is_on_its_page_and_nothing_is_wider_than_the_screen() {
        let stops: Vec<StopView> = (0..60)
            .map(|index| StopView {
                bar: (index / 7 + 1).to_string(),
                begins_bar: index % 7 == 0 || index == 40,
                chord: (index % 5 == 0).then(|| "Bbmaj7".into()),
                figures: vec![Some("10".into()), None],
                ..StopView::default()
            })
            .collect();
        for width in [12, 30, 56, 116] {
            for rows in [1, 2] {
                for current in 0..stops.len() {
                    let page = page_of_bars(&stops, current, width, rows);
                    let shown: Vec<usize> = page
                        .iter()
                        .flat_map(|row| &row.stops)
                        .map(|it| it.0)
                        .collect();
                    assert!(
                        page.len() <= rows && shown.contains(&current),
                        "{width} {current}"
                    );
                    assert!(shown.windows(2).all(|pair| pair[1] == pair[0] + 1));
                    assert!(
                        page.iter().all(|row| row.width <= width),
                        "{width}: {page:?}"
                    );
                }
            }
        }
    }
}
