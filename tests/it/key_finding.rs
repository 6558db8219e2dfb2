//! Key finding compared with the estimates and the printed keys of the 240 tunes in `data/golden` (source in its
//! README).

use fretlib::melody::{Draft, KeyProfile, Melody, Note, estimate_keys};
use tests::golden::{Golden, tunes};

fn melody(tune: &Golden) -> Melody {
    let notes = tune.notes.iter().map(|note| Note {
        pitch: note.pitch.parse().unwrap(),
        onset: note.onset.parse().unwrap(),
        duration: note.dur.parse().unwrap(),
    });
    let draft = Draft {
        notes: notes.collect(),
        ..Draft::default()
    };
    Melody::new(draft).unwrap_or_else(|error| panic!("{}: {error}", tune.id))
}

fn estimate(tune: &Golden, profile: KeyProfile) -> String {
    estimate_keys(&melody(tune), profile)[0].key.to_string()
}

/// The reference's estimate with the profile of this name.
fn reference(tune: &Golden, profile: KeyProfile) -> &str {
    &tune.key_estimates[match profile {
        KeyProfile::KrumhanslKessler => "krumhansl_schmuckler",
        KeyProfile::AardenEssen => "aarden_essen",
        KeyProfile::TemperleyKostkaPayne => "temperley_kostka_payne",
    }]
}

/// music21 10.5.1 found these, with its profiles of these names and the same correlation. The keys are compared, not the
/// numbers of the profiles.
#[test]
fn each_profile_agrees_with_the_reference() {
    let tunes = tunes();
    assert_eq!(tunes.len(), 240);
    for tune in &tunes {
        for profile in KeyProfile::ALL {
            assert_eq!(
                estimate(tune, profile),
                reference(tune, profile),
                "{} by {profile:?}",
                tune.id
            );
        }
    }
}

/// How often the printed key is found: the reason for the default profile.
///
/// 24 of the tunes are printed in Dorian or Mixolydian, for which there are no profiles.
#[test]
fn the_printed_key_is_found_as_often_as_the_profiles_allow() {
    let tunes = tunes();
    let found: Vec<usize> = KeyProfile::ALL
        .into_iter()
        .map(|profile| {
            let is_found = |tune: &&Golden| estimate(tune, profile) == tune.key;
            tunes.iter().filter(is_found).count()
        })
        .collect();
    assert_eq!(found, [186, 176, 183]);

    let plain: Vec<&Golden> = tunes
        .iter()
        .filter(|tune| tune.key_estimates.values().all(|key| *key == tune.key))
        .collect();
    assert_eq!(plain.len(), 153);
    let right = plain
        .iter()
        .filter(|tune| estimate(tune, KeyProfile::default()) == tune.key)
        .count();
    assert!(
        100 * right >= 98 * plain.len(),
        "{right} of {}",
        plain.len()
    );
}
