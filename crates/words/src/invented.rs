//! That figures are invented, wherever they are.

/// On maps and charts.
pub const BANNER: &str = "INVENTED DEMO DATA";

/// Over a brief.
pub const ON_BRIEF: &str = "Contains invented demo data: not for planning a real trip";

/// In files for other programs.
pub const IN_FILE: &str = "Contains invented demo data.";

/// Over the report page.
pub const ON_PAGE: &str =
    "Some of the figures behind this page are INVENTED for a demonstration. Do not plan a trip by them.";

/// Over what a cloud archive holds.
pub const ARCHIVE: &str = "INVENTED DATA: the file says that its figures are invented. Do not plan a trip by them.";
