//! Key finding against the estimates and the printed keys of the 240 tunes in `data/golden` (source in its README).

use std::collections::HashMap;

use fretlib::melody::{Draft, KeyProfile, Melody, Note, estimate_keys};
use serde::Deserialize;

#[derive(Deserialize)]
struct Tune {
    id: String,
    key: String,
    notes: Vec<GoldenNote>,
    key_estimates: HashMap<String, String>,
}

#[derive(Deserialize)]
struct GoldenNote {
    pitch: String,
    onset: String,
    dur: String,
}

impl Tune {
    fn melody(&self) -> Melody {
        let notes = self.notes.iter().map(|note| Note {
            pitch: note.pitch.parse().unwrap(),
            onset: note.onset.parse().unwrap(),
            duration: note.dur.parse().unwrap(),
        });
        let draft = Draft {
            notes: notes.collect(),
            ..Draft::default()
        };
        Melody::new(draft).unwrap_or_else(|error| panic!("{}: {error}", self.id))
    }

    fn estimate(&self, profile: KeyProfile) -> String {
        estimate_keys(&self.melody(), profile)[0].key.to_string()
    }

    fn golden(&self, profile: KeyProfile) -> &str {
        &self.key_estimates[match profile {
            KeyProfile::KrumhanslKessler => "krumhansl_schmuckler",
            KeyProfile::AardenEssen => "aarden_essen",
            KeyProfile::TemperleyKostkaPayne => "temperley_kostka_payne",
        }]
    }
}

fn tunes() -> Vec<Tune> {
    let mut files: Vec<_> = std::fs::read_dir(tests::data("golden"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    files.sort();
    files
        .iter()
        .flat_map(|file| tests::json_lines(&format!("golden/{file}")))
        .collect()
}

/// music21 10.5.1 found these, with its profiles of these names and the same correlation. The keys are compared, not the
/// numbers of the profiles.
#[test]
fn each_profile_finds_what_the_reference_finds_with_it() {
    let tunes = tunes();
    assert_eq!(tunes.len(), 240);
    for tune in &tunes {
        for profile in KeyProfile::ALL {
            assert_eq!(
                tune.estimate(profile),
                tune.golden(profile),
                "{} by {profile:?}",
                tune.id
            );
        }
    }
}

/// How often the printed key is found: the counts that the choice of the default profile rests on.
///
/// 24 of the tunes are printed in Dorian or Mixolydian, which the profiles do not know.
#[test]
fn the_printed_key_is_found_as_often_as_the_profiles_allow() {
    let tunes = tunes();
    let found: Vec<usize> = KeyProfile::ALL
        .into_iter()
        .map(|profile| {
            let is_found = |tune: &&Tune| tune.estimate(profile) == tune.key;
            tunes.iter().filter(is_found).count()
        })
        .collect();
    assert_eq!(found, [186, 176, 183]);

    let plain: Vec<&Tune> = tunes
        .iter()
        .filter(|tune| tune.key_estimates.values().all(|key| *key == tune.key))
        .collect();
    assert_eq!(plain.len(), 153);
    let right = plain
        .iter()
        .filter(|tune| tune.estimate(KeyProfile::default()) == tune.key)
        .count();
    assert!(
        100 * right >= 98 * plain.len(),
        "{right} of {}",
        plain.len()
    );
}
