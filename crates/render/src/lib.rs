//! How it is shown: maps, charts, tables, the brief, the report page and files for other tools.
