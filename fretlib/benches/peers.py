"""How long general-purpose Python libraries take over the files that `cargo bench -p fretlib --bench readers` reads.

    pip install mido music21
    python fretlib/benches/peers.py

Prints milliseconds for each set of files, the best of three. Hold them against the medians of the bench, run on the same
machine just before or after. music21 reads MusicXML and ABC and finds keys; mido reads MIDI.
"""

import time
from pathlib import Path

import mido
import music21

DATA = Path(__file__).resolve().parents[2] / "tests" / "data"


def best_of_three(work, files):
    def once():
        start = time.perf_counter()
        for file in files:
            work(file)
        return time.perf_counter() - start

    return min(once() for _ in range(3)) * 1000


def read_music21(file):
    music21.converter.parse(file, forceSource=True)


def read_and_find_key(file):
    music21.converter.parse(file, forceSource=True).analyze("key")


for what, work, folder, ending, most in [
    ("mido, MIDI", mido.MidiFile, "midi", "mid", None),
    ("music21, MusicXML", read_music21, "musicxml", "musicxml", None),
    ("music21, 20 tunes of ABC and their keys", read_and_find_key, "abc", "abc", 20),
]:
    files = sorted((DATA / folder).glob(f"*.{ending}"))[:most]
    print(f"{what}: {best_of_three(work, files):.1f} ms for {len(files)} files")
