//! What sounds under a melody: voicings a hand can hold, and the path through a tune.
