"""Words of reaching focus: with a focuser, with a lens, with a primary that moves."""

from __future__ import annotations

from server.rim.phrasebook import glass
from server.rim.phrasebook.working import Working

_CANNOT = "The sensor {may?may not come|cannot be brought} to focus: the drawtube would have to "
_WHERE = "{corrector?between tube and corrector|behind the tube}"

WORDS = {
    "reach.unknown": "Whether this train comes to focus is not known yet: enter {missing}.",
    "reach.not_yet": "Whether this train comes to focus is not known yet.",
    "reach.goes": "For focus the drawtube goes {move} {out?outwards|inwards} from its stated place.",
    "reach.inwards": _CANNOT + "go {short} further in than it can.",
    "reach.outwards": _CANNOT + "come {short} further out than it can.",
    "reach.nosepiece_counted": "If the length of {part} counts its nosepiece, take that off: what goes into the holder does not count.",
    "reach.slide": "The drawtube lacks {short} of travel outwards. {part} is pushed into its holder: draw it out by that, {known?and focus holds|if its barrel is long enough}.",
    "reach.without_glass": "Without more glass the drawtube would have to go {short} further in than it can.",
    "reach.as_unsure": "What is not sure is as large as that: try it before you change anything.",
    "reach.sound": "The sensor comes to focus with {inwards} of the {travel} of travel left inwards and {outwards} outwards.",
    "reach.spacing_first": "Put the spacing right first: that moves the sensor.",
    "reach.counted_with": "Counted with {length} of spacer before the camera that is not there yet: with it the sensor sits at the corrector's back focus.",
    "reach.runs_out": "That does not last: {causes}, and the drawtube comes to its {out?outer|inner} end.",
    "reach.by_cold": "a night that falls by {fall} K moves the focus {drift} {out?out|in}",
    "reach.by_filter": "the {out?thickest|thinnest} filter moves it {other}",
    "reach.tight": "That is little: temperature, tolerances or a {thinner?thinner|thicker} filter may use it up.",
    "drift.growth": "{material=carbon_fibre:carbon fibre|{material}}, growth {per_k} parts in a million for each K",
    "drift.table": "a table of materials",
    "reach.cold_unjudged": "How far the cold moves it cannot be judged for a tube of its material: watch the drawtube through one cold night before you count on that travel.",
    "reach.add": "Add at least {change} " + _WHERE + ".",
    "reach.take_out": "Take at least {short} out of the train " + _WHERE + ".",
    "reach.lower": (
        "{between?What stands between the tube and {corrector?the corrector|the camera} is only {there} long"
        "|Nothing stands between the tube and {corrector?the corrector|the camera} that could come out}: "
        "use a focuser that is {short} lower, {corrector?another corrector, }or a tube whose focus lies further out."
    ),
    "reach.move_primary": "Or move the primary mirror {short} or more towards the sky, if its cell allows it and the secondary still takes in the whole cone.",
    "reach.primary": "{tube} focuses by its primary: with the focus {further} {back?further back than|nearer the mirror than} its stated place it works at {focal} instead of {stated}.",
    "reach.primary_far": "From {nearest} to {furthest} it keeps its stars within a quarter wave; beyond that they grow by spherical aberration.",
    "reach.lens_unknown": "Whether {lens} reaches infinity is not known yet: enter {missing}.",
    "reach.lens": "{lens} keeps its infinity: the camera sits at {stands}, {asked} is asked for.",
    "reach.lens_long": "{lens} {sure?does|may} not reach infinity: the camera sits {error} too far.",
    "reach.lens_short": "{lens} reaches infinity before the mark on its ring: the camera sits {error} too near. Sharp corners of a fast lens want the length right.",
    "reach.lens_shorten": "Shorten the adapter by {error}.",
    "reach.lens_lengthen": "Lengthen the adapter by {error}.",
}
TITLES = {"reach": "Focus"}
WORKINGS = {
    "reach": Working(
        "move = back focus + sum of shifts by glass - train length - (d / m - d) for a corrector of factor m, d before the sensor; "
        f"{glass.FORMULA}; left inwards = travel in + move; left outwards = travel out - move; "
        "in the cold the focus moves out by alpha L dT, times m^2 + 1 behind two mirrors",
        f"Lengths along the axis. {glass.SOURCE} The corrector as a thin lens at its reference shoulder (Gaussian optics); "
        "expansion: a general encyclopaedia's table, glass and mirrors themselves left out.",
    ),
    "reach.primary": Working(
        "1/p' = 1/p - 1/f2; m = 1 + p'/f2; f' = m f1, p' the way from the secondary to the focus; quarter wave at the best focus: W040 = one wave",
        "Gaussian optics of two mirrors; third-order spherical aberration of a conic mirror at finite conjugates: "
        "Schroeder, Astronomical Optics, chapters 5 and 6 (from memory). The secondary is taken as a sphere and the maker's own back distance as the best: assumed, no source.",
    ),
    "reach.lens": Working(
        f"error = lengths behind the lens - (flange distance + sum of shifts by glass); {glass.FORMULA}",
        f"Lengths along the axis. {glass.SOURCE} A lens focused at infinity has its focal plane at its flange distance; "
        "beyond that its ring goes a little further (common practice, no source).",
    ),
}
