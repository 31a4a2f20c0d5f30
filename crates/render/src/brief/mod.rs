//! The one-page brief that a leader hands out: how it is set, and in which formats. What it says comes from [`noonfall_words::brief`].
//!
//! Read in this order: `layout`, `filters` and `drawings` (where the words stand), `fit` (the page is kept to one), then the outputs; what a
//! page is made of is in [`noonfall_drawing::page`].

mod drawings;
mod filters;
mod fit;
mod layout;
mod pdf;
mod png;
mod svg;

pub use fit::Paper;
pub use pdf::brief_pdf;
pub use png::brief_png;
pub use svg::brief_svg;

pub use noonfall_drawing::page::TypesetError;
