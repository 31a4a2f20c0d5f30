//! How long work tells its caller how far it is, and learns that it should stop.

/// A listener to long work. All methods may be called from several threads.
pub trait Progress: Sync {
    /// A stage begins that will take so many steps.
    fn begin(&self, what: &str, steps: u64);
    /// So many more steps are done.
    fn advance(&self, steps: u64);
    /// Whether to stop as soon as possible.
    fn cancelled(&self) -> bool {
        false
    }
}

/// Listens to nothing and never stops.
#[derive(Clone, Copy, Debug, Default)]
pub struct Silent;

impl Progress for Silent {
    fn begin(&self, _: &str, _: u64) {}
    fn advance(&self, _: u64) {}
}
