//! Notes in, samples out.
