//! What is left out when one line of notes is made of all that sounds.

/// Counts of notes, for a remark.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct LeftOut {
    /// Notes under the top one of a chord.
    pub(super) stacked: usize,
    /// Notes cut where the next one begins.
    pub(super) cut: usize,
}

impl LeftOut {
    /// Says what was left out, if anything was.
    pub(super) fn remark(self, remarks: &mut Vec<String>) {
        let LeftOut { stacked, cut } = self;
        if stacked > 0 {
            remarks.push(format!(
                "{stacked} notes under the top one of a chord are left out"
            ));
        }
        if cut > 0 {
            remarks.push(format!(
                "{cut} notes that sound on into the next are cut there"
            ));
        }
    }
}
