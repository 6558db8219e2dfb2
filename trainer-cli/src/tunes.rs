//! The tunes that are built into the program.

use fretlib::format::abc;
use fretlib::melody::Melody;

/// A tune that comes with the program.
pub struct BuiltIn {
    /// The name it is asked for by: its file's in `melodies/`.
    pub name: &'static str,
    source: &'static str,
}

impl BuiltIn {
    /// The tune, read when it is first asked for.
    pub fn melody(&self) -> Melody {
        abc::read(self.source.as_bytes(), &abc::Options::default())
            .expect("a test reads the built-in tunes")
            .melody
    }

    /// Its text, as it stands in `melodies/`.
    pub fn source(&self) -> &'static str {
        self.source
    }
}

/// The tunes in the order they are listed; the first is shown when none is named.
pub static BUILT_IN: [BuiltIn; 1] = [BuiltIn {
    name: "scale",
    source: "X:1\nT:Scale\nM:4/4\nL:1/4\nK:C\nCDEF|GABc|\n",
}];
