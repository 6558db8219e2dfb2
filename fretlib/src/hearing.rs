//! Samples in, struck notes and verdicts out.
