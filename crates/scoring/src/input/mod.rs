//! Readers for what the user hands in: one file per format. Every reader returns all faults, not only the first.
