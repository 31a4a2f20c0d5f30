//! Names that break things, for the tests of every output.

/// Names that break things: mark-up of several languages, quotes, formulas, right-to-left text, emoji, and sheer length.
pub const HOSTILE: [&str; 9] = [
    "#import \"x.typ\": * *bold* _em_ $x$ `raw` <label> @ref",
    "</text><script>alert('1')</script> & \"quotes\" \\ back",
    "=cmd|' /C calc'!A0",
    "שדה תעופה (north) مطار",
    "Camp 🌞🚌 日本語",
    "line\nbreak\ttab\u{202E}turned\u{7} bell",
    "-1+1; DROP TABLE \u{0} sites,semi;colon,comma",
    "LlanfairpwllgwyngyllgogerychwyrndrobwllllantysiliogogogochLlanfairpwllgwyngyllgogerychwyrndrobwllllantysiliogogogoch",
    "//comment https://example.org/#frag ~tie --- ...",
];
