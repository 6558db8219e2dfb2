//! The way along the neck: a tune, a note pinned in it, and a melody of a million notes. Run with `cargo bench -p fretlib --bench fingering`.
//!
//! Items are states: the ways to play a note, counted over all notes. What is allocated is shown too, and at the end how many
//! times as long the dearer searches take as one for the best way.

mod files;
mod ratio;

use divan::counter::ItemsCount;
use divan::{AllocProfiler, Bencher};
use fretlib::fingering::{FingeringSearch, Objective, Player, TimedMelody};
use fretlib::format::abc;
use fretlib::melody::{Draft, Melody, Note};
use fretlib::neck::{Hand, Instrument};
use fretlib::theory::{MidiNumber, Octave};

use files::files;
use ratio::ratio;

#[global_allocator]
static ALLOC: AllocProfiler = AllocProfiler::system();

fn main() {
    divan::main();
    let (line, guitar) = (joined(200), Instrument::default());
    let search = |objective, count| {
        let search = search(&guitar, objective, count);
        let line = &line;
        move || drop(search.run(line).expect("it can be played"))
    };
    let one = search(Objective::MinimizeSum, 1);
    ratio("nine best to one", search(Objective::MinimizeSum, 9), &one);
    ratio(
        "hardest moment made easy to one",
        search(Objective::MinimizeMax, 1),
        &one,
    );
    let search = self::search(&guitar, Objective::MinimizeSum, 1);
    let lines: Vec<TimedMelody> = tunes().iter().map(|notes| line_of(notes.iter())).collect();
    let each = |run: &dyn Fn(&TimedMelody)| lines.iter().for_each(run);
    ratio(
        "with few shifts to one, tune by tune",
        || each(&|line| drop(search.run_with_few_shifts(line).expect("it can be played"))),
        || each(&|line| drop(search.run(line).expect("it can be played"))),
    );
}

fn search(guitar: &Instrument, objective: Objective, count: usize) -> FingeringSearch<'_> {
    let player = Player {
        instrument: guitar,
        hand: Hand::MEDIUM,
    };
    FingeringSearch {
        objective,
        count,
        ..FingeringSearch::new(player)
    }
}

/// The notes of the reference tunes that lie on a guitar.
fn tunes() -> Vec<Vec<Note>> {
    let (low, high) = Instrument::default().midi_range();
    files("tests/data/abc", "abc")
        .iter()
        .map(|bytes| {
            let reading = abc::read(bytes, &abc::AbcOptions::default()).expect("it is readable");
            reading.melody.notes().to_vec()
        })
        .filter(|notes| {
            let mut notes = notes.iter();
            notes.all(|note| (low..=high).contains(&note.pitch.midi()))
        })
        .collect()
}

/// One tune after another, until there are `count` notes.
fn joined(count: usize) -> TimedMelody {
    line_of(tunes().iter().flatten().cycle().take(count))
}

fn line_of<'a>(notes: impl Iterator<Item = &'a Note>) -> TimedMelody {
    let mut draft = Draft::default();
    for note in notes {
        draft
            .note(note.pitch, note.duration)
            .expect("a time on the grid");
    }
    TimedMelody::new(
        &Melody::new(draft).expect("a melody"),
        Octave::WRITTEN,
        None,
    )
    .expect("as written")
}

fn finger(bencher: Bencher, notes: usize, objective: Objective, count: usize) {
    let line = joined(notes);
    let guitar = Instrument::default();
    let search = search(&guitar, objective, count);
    let candidates: Vec<usize> = MidiNumber::all()
        .map(|midi| search.player.candidates(midi).len())
        .collect();
    let states: usize = line
        .notes()
        .iter()
        .map(|note| candidates[usize::from(note.pitch.midi().get())])
        .sum();
    bencher
        .counter(ItemsCount::new(states))
        .bench(|| search.run(&line).expect("it can be played"));
}

/// 32 bars of four, mostly in eighths.
#[divan::bench]
fn a_tune_of_200_notes(bencher: Bencher) {
    finger(bencher, 200, Objective::MinimizeSum, 1);
}

#[divan::bench]
fn its_nine_best(bencher: Bencher) {
    finger(bencher, 200, Objective::MinimizeSum, 9);
}

#[divan::bench]
fn its_hardest_moment_made_easy(bencher: Bencher) {
    finger(bencher, 200, Objective::MinimizeMax, 1);
}

/// What a full screen does for a note: all is found again around a pin at each of its places.
fn pin(bencher: Bencher, notes: usize) {
    let line = joined(notes);
    let guitar = Instrument::default();
    let search = search(&guitar, Objective::MinimizeSum, 1);
    let (search, _) = search.in_usual_region(&line);
    let pinned = notes / 2;
    let midi = line.notes()[pinned].pitch.midi();
    let searches: Vec<FingeringSearch> = guitar
        .places_for(midi)
        .map(|place| {
            let mut search = search.clone();
            search.constraints.pins.insert(pinned, place.into());
            search
        })
        .collect();
    bencher.bench(|| {
        let found = searches
            .iter()
            .map(|search| search.run_with_few_shifts(&line).is_ok());
        found.filter(|found| *found).count()
    });
}

#[divan::bench]
fn every_place_of_a_note_in_32_bars(bencher: Bencher) {
    pin(bencher, 200);
}

#[divan::bench]
fn every_place_of_a_note_in_1000(bencher: Bencher) {
    pin(bencher, 1_000);
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn a_million_notes(bencher: Bencher) {
    finger(bencher, 1_000_000, Objective::MinimizeSum, 1);
}
