//! Any point of the map, worked out on the page.

/// Keys and texts.
pub(super) const SAID: &[(&str, &str)] = &[
    // Asking and keeping.
    ("own_most", "There is room for {most} own points: give one up in the table first."),
    ("name_taken", "Another place has this name: give this one a name of its own."),
    ("kept", "Kept: it stands in the table, and goes into the plan that is saved and into the files below it."),
    ("point_name", "Name of this point"),
    ("keep", "Keep this point"),
    ("bad_latitude", "Give a latitude from −90 (south) to 90 (north)."),
    ("bad_longitude", "Give a longitude from −180 (west) to 180 (east)."),
    ("bad_height", "Give a height from −500 to 30000 m."),
    ("asking", "Asking this device where it is …"),
    ("within", "This device takes itself to be within {metres} m of here."),
    ("no_height", "It gives no height: set it above."),
    ("height_too", "The height is its own as well."),
    ("not_allowed", "it was not allowed to say"),
    ("does_not_know", "it does not know"),
    ("too_long", "it took too long"),
    ("no_reason", "no reason given"),
    (
        "device_silent",
        "This device does not tell where it is: {why}. Some browsers never tell a page that is opened from a file. Type the \
         coordinates instead.",
    ),
    // What it sees.
    ("down_throughout", "The Sun is below the horizon throughout."),
    ("totality_for", "Totality for {length}."),
    ("totality_at_edge", "Totality for {length} at the Moon’s measured edge."),
    ("total_not_up", "Total, but not with the Sun above the horizon all the while."),
    (
        "edge_leaves_none",
        "No totality at the Moon’s measured edge, though a smooth Moon would give {length}: beads of Sun stay all the while. \
         Filters stay on.",
    ),
    ("ring_for", "A ring for {length}: filters stay on."),
    ("partial_covered", "Partial only, {percent} % of the Sun’s face covered: filters stay on."),
    ("contacts_here", "Contacts at this point"),
    ("local_by", "Local: {clock}. {day}."),
    (
        "no_time_for_eyes",
        "A point worked out on this page gets no time for bare eyes: that needs the ground, the height and what is uncertain \
         as well. Ask the program for this place.",
    ),
    // Where it would stand.
    ("would_stand", "Where it would stand"),
    ("would_be_rejected", "It would be rejected: {reasons}."),
    ("rejected_place", "This place would be rejected."),
    ("not_checked", "Not checked here: the plan also asks for {requirements}."),
    ("at_least", " at least {value}"),
    ("at_most", " at most {value}"),
    ("no_score", "No score: this page does not know {criteria} of this place."),
    ("all_that_counts", "what counts"),
    (
        "no_full_score",
        "No full score: this page does not know {criteria} of this place. Over the other criteria alone it scores {score}, and \
         over those it would stand at rank {rank} beside the {of} ranked sites.",
    ),
    (
        "full_score",
        "Score {score} by the weights in force: it would stand at rank {rank} beside the {of} ranked sites.",
    ),
    // Whose clock, cloud and ground.
    ("clock_of_site", "clock of {site}, the nearest listed site, {km} km away ({zone}, {offset})"),
    ("clock_of_device", "clock of this device ({zone}, {offset}), not of the place"),
    ("zone_unnamed", "zone not named"),
    ("cloud_near", "Cloud: not known for this point. {site}, {km} km away, has a clear line to the Sun in {chance}."),
    ("cloud_none", "Cloud: not known for this point, and no listed site with a figure is near."),
    (
        "no_ground",
        "Ground: its height is not carried by this page; the times are for {metres} m. Skyline: not known; the horizon is \
         taken as level.",
    ),
    ("terrain_here", "the terrain that came with this page"),
    ("ground_unknown", "Nothing is known of the ground here."),
    ("ground_high", "The ground is {metres} m high."),
    (
        "ground_hides",
        "The ground is {metres} m high, and hills hide the Sun in totality: {degrees}° behind the skyline. {spot}",
    ),
    (
        "ground_clears",
        "The ground is {metres} m high, and in totality the Sun stands {degrees} above the skyline. {spot}",
    ),
    ("more_than", "more than {degrees}°"),
    ("on_the_spot", "Looked at every {km} km, bare ground: look at it on the spot."),
    // Which edge of the Moon.
    ("smooth", "Contacts of a smooth Moon: its real edge moves C2 and C3 by seconds, most near the edge of the path."),
    (
        "smooth_outside",
        "Contacts of a smooth Moon, this place lying outside the area for which its measured edge came with the page: its \
         real edge moves C2 and C3 by seconds, most near the edge of the path.",
    ),
    ("edge_left_out", "By the Moon’s measured edge; the smooth Moon’s C2 and C3 are left out."),
    ("edge_against", "C2 and C3 at the Moon’s measured edge ({c2} s and {c3} s from a smooth Moon’s)."),
    (
        "edge_at_limit",
        "C2 and C3 at the Moon’s measured edge, where a smooth Moon gives no totality: on the very limit.",
    ),
];
