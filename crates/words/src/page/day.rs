//! Day mode: the screen for the minutes that count.

use crate::safety;

/// Keys and texts.
pub(super) const SAID: &[(&str, &str)] = &[
    ("rehearsal_mark", safety::REHEARSAL),
    ("leave_day", "Leave day mode"),
    ("also_to_come", "Also to come"),
    (
        "rimless",
        "No time for the red rim is told here: the report works it out only for the places that it describes in full, the \
         first of its table. Lower binoculars and telescopes well before filter ON.",
    ),
    // What is waited for.
    ("rim_away", "Red rim: look away"),
    ("named", "{name} ({mark})"),
    ("at_time", "at {time} {day}"),
    ("at_time_rehearsed", "at {time} (rehearsed)"),
    ("rehearsed_time", "rehearsed time {time}"),
    ("now", "now"),
    ("rehearsed", "Rehearsed: {what}"),
    ("over", "The eclipse is over"),
    // What the filter does, and why.
    ("is_on", "FILTER ON"),
    ("is_off", "FILTER OFF"),
    ("rehearsal", "REHEARSAL, {filter}"),
    ("practice", "practice: keep yours on"),
    ("rim_now", "Red rim: look away now"),
    ("off_why", "for the Sun in totality, until the time below"),
    ("on_every_look", "for every look at the Sun"),
    ("on_over", "the eclipse is over: for every look at the Sun"),
    ("on_all_the_while", "all the while: there is no time for bare eyes here"),
    ("on_to_end", "until the end"),
    ("on_until_off", "until filter OFF is due, and the last bright edge is gone"),
    ("on_nothing_seen", "nothing of the eclipse is seen here"),
    // The clock.
    ("trust", "How far this clock can be trusted"),
    (
        "trust_how",
        "This page cannot check the device’s clock without a connection. A phone that had a network today is usually right \
         within a second (common practice, no source); after days without one it may be several seconds off, and a clock set by \
         hand even minutes. Compare it with a satellite receiver, a time signal on the radio, or a second device that had a \
         network today.",
    ),
    ("trusted_shows", "A trusted clock will show, by the clock of this place:"),
    ("typed", "hhmmss"),
    ("shows_now", "It shows that NOW"),
    ("ask_satellites", "Ask the satellite receiver"),
    ("typed_how", "Type a time some seconds ahead, wait for it on the trusted clock, and tap at that moment."),
    ("bad_time", "Give a time of day as hours, minutes and seconds, such as 124310."),
    ("no_receiver", "This browser has no access to a receiver."),
    ("waiting", "Waiting for a position …"),
    (
        "stamped_later",
        "The position is stamped {seconds} s later than this clock. One of them is wrong: until you compare, OFF waits for \
         both and ON comes by the first.",
    ),
    (
        "stamped_earlier",
        "The position is stamped {seconds} s earlier than this clock. One of them is wrong: until you compare, OFF waits for \
         both and ON comes by the first.",
    ),
    (
        "stamped_same",
        "The position carries the same time. That proves little: many stamp it by their own clock. Compare by eye.",
    ),
    ("no_position", "No position was given. Compare by eye."),
    ("jumped", "⚠ The clock jumped by {seconds} s: the device slept, or was set. The time was read anew.{again}"),
    ("compare_again", " Compare it again: until then OFF waits for the later reading and ON comes by the earlier."),
    ("two_times", "⚠ Two times disagree: compare the clock below."),
    ("not_compared", "⚠ Clock not compared. How to: below."),
    ("compared", "Clock compared at {time}: {by}, within 1 s. OFF waits 1 s longer, ON comes 1 s earlier."),
    ("right", "right"),
    ("slow", "{seconds} s slow"),
    ("fast", "{seconds} s fast"),
    // The screen.
    ("screen", "Screen"),
    ("look_sun", "Direct sun"),
    ("look_light", "Light"),
    ("look_dark", "Dark"),
    ("awake_kept", "The screen is kept awake."),
    ("awake_asked", "The device is asked to keep the screen awake …"),
    ("awake_lost", "⚠ The screen may go dark: tap anywhere, or set the device’s screen to stay on."),
    (
        "awake_refused",
        "⚠ The device refuses to keep the screen awake (a low battery does that): set its screen to stay on.",
    ),
    ("awake_cannot", "⚠ This browser cannot keep the screen awake: set the device’s screen to stay on."),
    // Signals.
    ("signals", "Sound and vibration"),
    ("try_off", "Try: OFF, two long tones"),
    ("try_rim", "Try: red rim, five short ones"),
    ("try_on", "Try: ON, a siren"),
    ("sound", "Sound"),
    ("no_sound", "This browser makes no sounds for a page."),
    ("vibration", "Vibration"),
    ("no_vibration", "This browser does not let a page vibrate."),
    (
        "signals_how",
        "Tap once after opening the page, or it stays silent. A silent switch mutes it: turn the volume up.",
    ),
    // The rehearsal.
    ("rehearse", "Rehearse"),
    ("stop_rehearsal", "Stop the rehearsal"),
    ("no_rehearsal", "No rehearsal now: the eclipse itself is on."),
    ("from_c2", "From 1 min before C2"),
    ("from_max", "From 1 min before the maximum"),
    ("from_on", "From 1 min before filter ON"),
];
