"""How to measure what the tool asks for: steps a person can follow at the engine, with the caution where one is due.

The ways are common practice, no source; where a standard fixes what is meant it is named.
"""

from __future__ import annotations

from dataclasses import dataclass

STOPPED = "Engine stopped, key out, battery off where a fan can start by itself."


@dataclass(frozen=True, slots=True)
class Guide:
    """One thing to measure; ``name`` is its address under ``/measure/``."""

    name: str
    title: str
    steps: tuple[str, ...]
    doubt: str
    caution: str = ""


GUIDES: tuple[Guide, ...] = (
    Guide("outside-length", "A belt's outside length", (
        "Take the belt off and lay it on its edge in a round loop, ribs inside, no kink.",
        "Lay a steel tape round the back, or mark the back, roll the belt one turn along a rule, and read the distance.",
        "Read where the tape meets itself, twice, and take the middle. Ask for the belt as measured outside.",
    ), "A few millimetres; a worn belt reads long.", STOPPED),
    Guide("effective-length", "A belt's effective length", (
        "Read what is printed on the back: 8PK1854 is 8 ribs, profile PK, 1854 mm effective (ISO 9981).",
        "Not readable: measure the outside length, or a string round the pulleys, and say which.",
    ), "Printed lengths have a tolerance of their own; a sheet that gives it is taken at its word."),
    Guide("ribs", "Ribs", (
        "Look at the cut or the side of the belt and count the ribs, not the grooves between them.",
        "Count the grooves of the narrowest pulley too: a belt with more ribs than it has grooves does not fit.",
    ), "None: count twice.", STOPPED),
    Guide("pulley-diameter", "A pulley's diameter", (
        "Grooved: caliper across the tips of the ribs, clear of the rims. Flat: across the running face.",
        "Too big for the caliper: lay a tape round the tips and divide by 3.1416.",
        "Better for grooves: two 2.5 mm balls in opposite grooves and the caliper over both (PK, ISO 9981).",
    ), "0.3 mm by caliper, 1 mm by tape.", STOPPED),
    Guide("centre-distance", "Distances between centres", (
        "Tape from bolt centre to bolt centre, the tape level with the belt's plane, not over a hub.",
        "No centre to see: measure outside to outside and inside to inside of the two pulleys, and take the middle.",
        "Tape every pair you can reach: from six pulleys on a wrong tape gives itself away.",
    ), "1.5 mm.", STOPPED),
    Guide("arm-angle", "A tensioner's arm angles", (
        "Angle finder along the line from the pivot to the pulley's centre, zero on level, anticlockwise counted up.",
        "Slack stop S: wound back as far as it goes. Free stop F: belt off, let out as far as it goes.",
        "Its working marks too, if the casting has them.",
    ), "2 degrees; it is often the largest doubt of all, so read it twice.",
        "The arm is sprung: a bar that cannot slip, fingers out of its path, nobody before it."),
    Guide("thread", "A thread", (
        "Clean it. Male: caliper over the crests, near the end. Female: caliper inside, between the crests.",
        "Pitch: the gauge that sits without light under it; or count the crests over an inch or over 20 mm.",
        "Taper: lay a straightedge along the crests, or read at both ends: 1 in 16 is 0.31 mm in 5 mm.",
    ), "0.08 mm; worn threads read small.",
        "Lines may be under pressure or hot: let it down and cool first; refrigerant is recovered by licensed people."),
    Guide("seat", "A seat's angle", (
        "Put the seat gauge on the cone: it must touch along its whole length, without light.",
        "Look where the old one sealed: a bright ring on the cone, on the flat face, or on the thread.",
        "37 and 45 degrees share threads and do not seal on each other: never guess.",
    ), "None: it sits or it does not.", "Pressure down and cold before a joint is opened; eyes away from it."),
    Guide("hose-bends", "A moulded hose's legs and bends", (
        "Lay it on paper and draw round it. Draw the middle of each straight piece until they cross.",
        "Legs: from the end to the first crossing, crossing to crossing, last crossing to the other end.",
        "Bends: how far each turns the hose: straight is 0, an elbow 90. Twist: how far the next bend is turned round.",
    ), "3 mm a leg, 3 degrees a bend.", "Hot coolant scalds: cold engine, pressure let off at the cap first."),
    Guide("clock-angle", "The clock angle of two elbows", (
        "Hold the line so that you look along it from the near end to the far end, the near elbow at 12 o'clock.",
        "Read where the far elbow points, clockwise, in degrees: 3 o'clock is 90.",
        "Read from the other end it is the same number. Say that it is clockwise: some count the other way.",
    ), "5 degrees.", "Pressure let down, refrigerant recovered by licensed people, before a line comes off."),
    Guide("bolt-circle", "A bolt circle", (
        "Even number of holes: centre to centre straight across, or outer edge to inner edge of the opposite hole.",
        "Odd number: centre to centre of two neighbours; `bayshelf holes` turns it into the circle.",
        "Pilot: caliper across the spigot, and its depth.",
    ), "0.3 mm.", STOPPED),
    Guide("fan-clearance", "A fan's clearance", (
        "Turn the fan by hand and find the blade and the place where tip and ring are nearest; feeler or wire gauge there.",
        "Then at top, right, bottom and left with the same blade. Rock the engine by hand: it moves on its mounts.",
        "Front to the radiator and back to the engine as well.",
    ), "0.5 mm.", "Key out and battery off: an electric fan can start by itself. Never with the engine running."),
)  # fmt: skip

BY_NAME = {guide.name: guide for guide in GUIDES}
