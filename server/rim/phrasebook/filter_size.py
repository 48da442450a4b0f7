"""Words of the filter sizes of the trade."""

from __future__ import annotations

from server.rim.phrasebook.working import COMMON_PRACTICE, Working

_AT = "At {place}, {at} before the sensor, "
_LARGER = "larger than any of the trade's"

WORDS = {
    "filter_size.size": "{size=mounted_1_25:1.25 in mounted|mounted_2:2 in mounted|round_31:31 mm round|round_36:36 mm round|round_50:50 mm round|square_50:50 mm square|square_65:65 mm square|The filter}",
    "filter_size.sound": "{there} at {place}, {at} before the sensor, passes all its light{sizes?; the smallest that do are {sizes}}.",
    "filter_size.unknown": _AT
    + "the smallest filters that pass all its light are {less?{less}|"
    + _LARGER
    + "} or {more?{more}|"
    + _LARGER
    + "}. What decides is {decides}.",
    "filter_size.told": (
        _AT
        + "{sizes?the smallest filters that pass all its light are {sizes}.|no filter of the trade's sizes passes all its light: nearer the sensor a smaller one does.}"
        "{there? {there} is there: the light cone says what it costs.}"
    ),
}
TITLES = {"filter_size": "Filter size"}
WORKINGS = {
    "filter_size": Working(
        "round: the diameter at which the corner's light, y D / 2 to either side of h Y / F, keeps 99 %; square: w Y / F + y D over the long side w",
        f"Plane geometry of the traced beam. Clear apertures of the trade's sizes: {COMMON_PRACTICE}",
    )
}
