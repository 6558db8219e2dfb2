//! A judge of arrangements, by their JSON alone, without the library's chords, fingers or frets.

use std::collections::BTreeSet;

use serde::Deserialize;

/// The judged part of the JSON of `neckline arrange`.
#[derive(Debug, Deserialize)]
pub struct ArrangementJson {
    /// Open strings and capo.
    pub instrument: Strings,
    /// The melody with its voicings.
    pub notes: Vec<Note>,
    /// What sounds while it rests.
    #[serde(default)]
    pub in_rests: Vec<Rest>,
}

/// A rest of the melody.
#[derive(Debug, Deserialize)]
pub struct Rest {
    bar: i64,
    onset: String,
    duration: String,
    under: Vec<Voicing>,
}

/// The open strings.
#[derive(Debug, Deserialize)]
pub struct Strings {
    strings: Vec<String>,
    capo: i64,
}

/// A melody note.
#[derive(Debug, Deserialize)]
pub struct Note {
    number: usize,
    bar: i64,
    pitch: String,
    octave: i64,
    duration: String,
    place: Stopped,
    /// The voicings under it.
    pub under: Vec<Voicing>,
    /// Why nothing is struck under it.
    pub bare: Option<String>,
}

/// The notes of the voicing.
#[derive(Debug, Deserialize)]
pub struct Voicing {
    at: String,
    until: String,
    chord: String,
    places: Vec<Stopped>,
    barre: Option<Barre>,
    omitted: Vec<String>,
    reach_mm: f64,
    anchors: Vec<i64>,
}

#[derive(Clone, Debug, Deserialize)]
struct Stopped {
    string: i64,
    fret: i64,
    finger: i64,
    pitch: String,
    placed: Option<i64>,
    #[serde(default)]
    held: bool,
}

#[derive(Debug, Deserialize)]
struct Barre {
    fret: i64,
    from_string: i64,
    to_string: i64,
    finger: i64,
}

/// The findings of the judge.
#[derive(Debug, Default)]
pub struct Verdict {
    /// The faults, in words.
    pub faults: Vec<String>,
    /// Notes with something struck under them.
    pub voiced: usize,
    /// Those whose guide tones all sound.
    pub complete: usize,
}

/// Semitones above the root.
type Tones = &'static [i64];

/// Guide tones, other basic tones and available tensions, in semitones above the root, by the beginning of the symbol
/// after the root.
///
/// Common practice, no source; the first matching line counts.
const KINDS: [(&str, Tones, Tones, Tones); 17] = [
    ("maj7", &[4, 11], &[0, 7], &[2, 6, 9]),
    ("6", &[4, 9], &[0, 7], &[2, 6]),
    ("m7b5", &[3, 10], &[0, 6], &[2, 5, 8]),
    ("dim7", &[3, 9], &[0, 6], &[2, 5, 8, 11]),
    ("dim", &[3], &[0, 6], &[9]),
    ("mMaj7", &[3, 11], &[0, 7], &[2, 5, 9]),
    ("m6", &[3, 9], &[0, 7], &[2, 5]),
    ("m7", &[3, 10], &[0, 7], &[2, 5, 9]),
    ("m9", &[3, 10], &[0, 7], &[2, 5, 9]),
    ("m", &[3], &[0, 7], &[2, 5, 9, 10]),
    ("7sus4", &[5, 10], &[0, 7], &[1, 2, 9]),
    ("7alt", &[4, 10], &[0], &[1, 3, 6, 8]),
    ("7#5", &[4, 10], &[0, 8], &[1, 2, 3, 6]),
    ("7", &[4, 10], &[0, 7], &[1, 2, 3, 6, 8, 9]),
    ("9", &[4, 10], &[0, 7], &[1, 2, 3, 6, 8, 9]),
    ("13", &[4, 10], &[0, 7], &[1, 2, 3, 6, 8, 9]),
    ("", &[4], &[0, 7], &[2, 9, 11]),
];

/// The lowest allowed lower note of the lowest interval, as a sounding MIDI number, for 1 to 11 semitones.
///
/// Source: K. Lowell & K. Pullig, *Arranging for Large Jazz Ensemble*, Berklee Press; printed tables differ by a semitone.
const LOWEST: [i64; 11] = [52, 51, 48, 47, 46, 46, 37, 41, 41, 41, 41];

/// The scale length of the guitar in millimetres. Common practice, no source.
const SCALE: f64 = 648.0;

/// Names of the basic tones, by semitones above the root.
const NAMES: [&[&str]; 12] = [
    &["1"],
    &["b9"],
    &["2", "9"],
    &["b3"],
    &["3"],
    &["4", "11"],
    &["b5"],
    &["5"],
    &["#5", "b13"],
    &["6", "bb7", "13"],
    &["b7"],
    &["7"],
];

fn midi(name: &str) -> i64 {
    let natural = [9, 11, 0, 2, 4, 5, 7];
    let letter = natural[usize::from(name.as_bytes()[0] - b'A')];
    let digits = name.find(|c: char| c.is_ascii_digit() || c == '-').unwrap();
    let signs = &name[1..digits];
    let altered = signs.matches('#').count() as i64 - signs.matches('b').count() as i64;
    letter + altered + 12 * (name[digits..].parse::<i64>().unwrap() + 1)
}

/// A fraction as two whole numbers.
fn fraction(text: &str) -> (i64, i64) {
    let (numer, denom) = text.split_once('/').unwrap_or((text, "1"));
    (numer.parse().unwrap(), denom.parse().unwrap())
}

fn is_less(one: &str, other: &str) -> bool {
    let (one, other) = (fraction(one), fraction(other));
    one.0 * other.1 < other.0 * one.1
}

struct Symbol {
    root: i64,
    guides: BTreeSet<i64>,
    basics: BTreeSet<i64>,
    tensions: BTreeSet<i64>,
    bass: Option<i64>,
    is_dominant: bool,
}

fn class(name: &str) -> i64 {
    midi(&format!("{name}4")).rem_euclid(12)
}

fn symbol(text: &str) -> Symbol {
    let (name, bass) = match text.rsplit_once('/') {
        Some((name, bass)) if bass.starts_with(|c: char| c.is_ascii_uppercase()) => {
            (name, Some(class(bass)))
        }
        _ => (text, None),
    };
    let end = name[1..]
        .find(|c| c != '#' && c != 'b')
        .map_or(name.len(), |index| index + 1);
    let (root, kind) = name.split_at(end);
    let (_, guides, others, tensions) = KINDS
        .iter()
        .find(|(start, ..)| kind.starts_with(start))
        .unwrap();
    let set = |tones: &[i64]| tones.iter().copied().collect::<BTreeSet<i64>>();
    let mut tensions = set(tensions);
    for (name, tone) in [
        ("b9", 1),
        ("#9", 3),
        ("#11", 6),
        ("b13", 8),
        ("11", 5),
        ("13", 9),
        ("9", 2),
    ] {
        if kind.contains(name) {
            tensions.insert(tone);
        }
    }
    Symbol {
        root: class(root),
        guides: set(guides),
        basics: set(others),
        tensions,
        bass,
        is_dominant: ["7", "9", "13"].iter().any(|start| kind.starts_with(start)),
    }
}

/// Judges an arrangement for a hand with this reach in millimetres.
pub fn judge(arrangement: &ArrangementJson, limit: f64) -> Verdict {
    let capo = arrangement.instrument.capo;
    let judge = Judge {
        open: arrangement
            .instrument
            .strings
            .iter()
            .map(|name| midi(name) + capo)
            .collect(),
        length: SCALE * 2f64.powf(-(capo as f64) / 12.0),
        limit,
    };
    let mut verdict = Verdict::default();
    let mut before: Vec<Stopped> = Vec::new();
    for (index, note) in arrangement.notes.iter().enumerate() {
        let mut found = Vec::new();
        if note.number != index + 1 {
            found.push(format!("numbered {}", note.number));
        }
        if midi(&note.place.pitch) != midi(&note.pitch) + 12 * note.octave {
            found.push("the melody is not its pitch moved by the octave".into());
        }
        let (voiced, complete) = judge.note(note, &mut before, &mut found);
        verdict.voiced += usize::from(voiced);
        verdict.complete += usize::from(complete);
        let place = format!("note {} bar {}", note.number, note.bar);
        verdict
            .faults
            .extend(found.into_iter().map(|fault| format!("{place}: {fault}")));
    }
    for rest in &arrangement.in_rests {
        let mut found = Vec::new();
        for voicing in &rest.under {
            judge.rest(rest, voicing, &mut found);
        }
        let place = format!("rest in bar {} at {}", rest.bar, rest.onset);
        (verdict.faults).extend(found.into_iter().map(|fault| format!("{place}: {fault}")));
    }
    verdict
}

struct Judge {
    open: Vec<i64>,
    length: f64,
    limit: f64,
}

impl Judge {
    fn note(
        &self,
        note: &Note,
        before: &mut Vec<Stopped>,
        faults: &mut Vec<String>,
    ) -> (bool, bool) {
        let melody = note.place.clone();
        let is_struck = note
            .under
            .iter()
            .flat_map(|voicing| &voicing.places)
            .any(|place| !place.held);
        if !is_struck && note.bare.is_none() {
            faults.push("nothing struck under it and no reason".into());
        }
        if note.under.is_empty() {
            self.hand(std::slice::from_ref(&melody), None, faults);
            before.retain(|place| place.finger != melody.finger && place.string != melody.string);
            before.push(melody);
            return (false, false);
        }
        let (mut end, mut complete) = ("0".to_owned(), false);
        for voicing in &note.under {
            let in_order = !is_less(&voicing.at, &end) && is_less(&voicing.at, &voicing.until);
            if !in_order || is_less(&note.duration, &voicing.until) {
                faults.push(format!(
                    "sounds from {} to {} of {}",
                    voicing.at, voicing.until, note.duration
                ));
            }
            end.clone_from(&voicing.until);
            let mut places = vec![melody.clone()];
            places.extend(voicing.places.iter().cloned());
            self.hand(&places, voicing.barre.as_ref(), faults);
            self.what_stays(voicing, &places, before, faults);
            if voicing.places.iter().any(|place| !place.held) {
                complete |= sound(&places, voicing, faults);
            }
            *before = places;
        }
        (is_struck, is_struck && complete)
    }

    /// What sounds while the melody rests: the highest note takes its place.
    fn rest(&self, rest: &Rest, voicing: &Voicing, faults: &mut Vec<String>) {
        if !is_less(&voicing.at, &voicing.until) || is_less(&rest.duration, &voicing.until) {
            faults.push(format!("sounds from {} to {}", voicing.at, voicing.until));
        }
        let mut places = voicing.places.clone();
        places.sort_by_key(|place| std::cmp::Reverse(midi(&place.pitch)));
        if places.is_empty() || places.iter().any(|place| place.held) {
            faults.push("nothing is struck".into());
            return;
        }
        self.hand(&places, voicing.barre.as_ref(), faults);
        let stopped = places
            .iter()
            .map(|place| place.fret)
            .filter(|fret| *fret > 0);
        let reach = self.reach(&stopped.collect::<Vec<_>>());
        if (reach - voicing.reach_mm).abs() > 0.06 {
            faults.push(format!(
                "reach said to be {}, is {reach:.1}",
                voicing.reach_mm
            ));
        }
    }

    fn what_stays(
        &self,
        voicing: &Voicing,
        places: &[Stopped],
        before: &[Stopped],
        faults: &mut Vec<String>,
    ) {
        let same = |one: &Stopped, other: &Stopped| {
            (one.string, one.fret, one.finger) == (other.string, other.fret, other.finger)
        };
        if voicing.places.is_empty() {
            faults.push("a voicing without places".into());
        }
        for place in voicing.places.iter().filter(|place| place.held) {
            if !before.iter().any(|it| same(it, place)) {
                faults.push(format!("held on string {} but was not there", place.string));
            }
        }
        for finger in &voicing.anchors {
            let mut on = places.iter().filter(|place| place.finger == *finger);
            if !on.any(|place| before.iter().any(|it| same(it, place))) {
                faults.push(format!("anchor {finger} was not there"));
            }
        }
        let stopped = places
            .iter()
            .map(|place| place.fret)
            .filter(|fret| *fret > 0);
        let reach = self.reach(&stopped.collect::<Vec<_>>());
        if (reach - voicing.reach_mm).abs() > 0.06 {
            faults.push(format!(
                "reach said to be {} mm, is {reach:.1}",
                voicing.reach_mm
            ));
        }
    }

    fn reach(&self, frets: &[i64]) -> f64 {
        let at = |fret: i64| self.length * (1.0 - 2f64.powf(-(fret as f64) / 12.0));
        match (frets.iter().min(), frets.iter().max()) {
            (Some(low), Some(high)) => at(*high) - at(*low),
            _ => 0.0,
        }
    }

    fn hand(&self, places: &[Stopped], barre: Option<&Barre>, faults: &mut Vec<String>) {
        let top = midi(&places[0].pitch);
        for place in places {
            let sounds = self.open[place.string as usize - 1] + place.fret;
            if sounds != midi(&place.pitch) {
                faults.push(format!(
                    "string {} fret {} is not {}",
                    place.string, place.fret, place.pitch
                ));
            }
            if (place.fret == 0) != (place.finger == 0) || !(0..=4).contains(&place.finger) {
                faults.push(format!("finger {} on fret {}", place.finger, place.fret));
            }
            if place.placed.is_some_and(|turn| turn < 1) {
                faults.push("put down before the first".into());
            }
        }
        if places[1..].iter().any(|place| midi(&place.pitch) >= top) {
            faults.push("the melody is not alone on top".into());
        }
        let strings: BTreeSet<i64> = places.iter().map(|place| place.string).collect();
        if strings.len() != places.len() {
            faults.push("two notes on one string".into());
        }
        for finger in 1..=4 {
            let on: Vec<&Stopped> = places
                .iter()
                .filter(|place| place.finger == finger)
                .collect();
            let lies = |barre: &Barre| {
                let covered = barre.from_string..=barre.to_string;
                barre.finger == finger
                    && on
                        .iter()
                        .all(|place| place.fret == barre.fret && covered.contains(&place.string))
            };
            if on.len() > 1 && !barre.is_some_and(lies) {
                faults.push(format!(
                    "finger {finger} on {} places without a barre",
                    on.len()
                ));
            }
        }
        if let Some(barre) = barre {
            let covered = barre.from_string..=barre.to_string;
            if places
                .iter()
                .any(|place| covered.contains(&place.string) && place.fret < barre.fret)
            {
                faults.push("a barre over a lower or an open note".into());
            }
        }
        for one in places.iter().filter(|place| place.finger > 0) {
            if places
                .iter()
                .any(|other| one.finger < other.finger && one.fret > other.fret)
            {
                faults.push("fingers cross".into());
            }
        }
        let stopped: Vec<i64> = places
            .iter()
            .map(|place| place.fret)
            .filter(|fret| *fret > 0)
            .collect();
        if self.reach(&stopped) > self.limit + 0.5 {
            faults.push(format!("reach of {:.0} mm", self.reach(&stopped)));
        }
    }
}

/// Judges the notes of a voicing; true when every guide tone sounds.
fn sound(places: &[Stopped], voicing: &Voicing, faults: &mut Vec<String>) -> bool {
    let chord = symbol(&voicing.chord);
    let above = |place: &Stopped| (midi(&place.pitch) - chord.root).rem_euclid(12);
    let sounding: BTreeSet<i64> = places.iter().map(above).collect();
    let sixth_for_seventh =
        chord.guides == BTreeSet::from([4, 11]) && above(&places[0]) == 0 && sounding.contains(&9);
    let guides = if sixth_for_seventh {
        BTreeSet::from([4, 9])
    } else {
        chord.guides.clone()
    };
    let is_complete = guides.is_subset(&sounding);
    let basics: BTreeSet<i64> = guides.union(&chord.basics).copied().collect();
    for place in &places[1..] {
        let tone = above(place);
        let is_bass = chord.bass == Some(midi(&place.pitch).rem_euclid(12));
        if !basics.contains(&tone) && !chord.tensions.contains(&tone) && !is_bass {
            faults.push(format!("{} is no tone of {}", place.pitch, voicing.chord));
        }
        if chord.tensions.contains(&tone) && !basics.contains(&tone) && !is_complete && !place.held
        {
            faults.push(format!("{} is a tension without guide tones", place.pitch));
        }
    }
    let may_double =
        |tone: i64| tone == 0 || (chord.basics.contains(&tone) && (6..=8).contains(&tone));
    for tone in sounding.iter().filter(|tone| !may_double(**tone)) {
        if places.iter().filter(|place| above(place) == *tone).count() > 1 {
            faults.push(format!("{} semitones above the root sound twice", tone));
        }
    }
    let missing: Vec<i64> = basics.difference(&sounding).copied().collect();
    let is_named = |tone: &i64| {
        voicing
            .omitted
            .iter()
            .any(|name| NAMES[*tone as usize].contains(&name.as_str()))
    };
    if missing.len() != voicing.omitted.len() || !missing.iter().all(is_named) {
        faults.push(format!(
            "said to leave out {:?}, leaves out {missing:?}",
            voicing.omitted
        ));
    }
    intervals(places, &chord, faults);
    is_complete
}

fn intervals(places: &[Stopped], chord: &Symbol, faults: &mut Vec<String>) {
    let mut notes: Vec<i64> = places.iter().map(|place| midi(&place.pitch)).collect();
    notes.sort_unstable();
    for (index, low) in notes.iter().enumerate() {
        for high in &notes[index + 1..] {
            let on_root = chord.is_dominant && (low - chord.root).rem_euclid(12) == 0;
            if high - low > 1 && (high - low) % 12 == 1 && !on_root {
                faults.push(format!("a minor ninth between {low} and {high}"));
            }
        }
    }
    if notes[notes.len() - 1] - notes[notes.len() - 2] == 1 {
        faults.push("a semitone under the melody".into());
    }
    // A guitar sounds an octave below what is written.
    let (low, gap) = (notes[0] - 12, notes[1] - notes[0]);
    if (1..=11).contains(&gap) && low < LOWEST[gap as usize - 1] {
        faults.push(format!("{gap} semitones at the bottom, on {low}"));
    }
}
