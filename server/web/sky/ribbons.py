"""Nights as ribbons: as thick as the light that comes through the air, broken where something is in it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from itertools import groupby

from markupsafe import Markup

from server.domain.sky.when import STEP_MINUTES, Night, Ribbon, Year
from server.rim.sky_words import clock
from server.web.drawing.svg import Svg

NIGHT_WIDTH, NIGHT_HEIGHT = 720.0, 150.0
NIGHT_LEFT, NIGHT_RIGHT, MIDDLE, HALF = 12.0, 12.0, 52.0, 34.0
YEAR_WIDTH, YEAR_TOP, YEAR_LEFT, YEAR_BOTTOM = 760.0, 10.0, 60.0, 26.0
PER_HOUR = 14.0
_STEP_H = STEP_MINUTES / 60.0
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def night_svg(night: Night, words: str) -> Markup:
    """One night from sunset to sunrise."""
    svg = Svg()
    svg.head(NIGHT_WIDTH, NIGHT_HEIGHT, "dw ribbon", "night", f"The night of {night.evening:%d %B %Y}", words)
    steps = night.steps
    start = steps[0].at
    hours = max(0.5, (steps[-1].at - start).total_seconds() / 3600.0)
    wide = NIGHT_WIDTH - NIGHT_LEFT - NIGHT_RIGHT

    def across(at: datetime) -> float:
        return NIGHT_LEFT + (at - start).total_seconds() / 3600.0 / hours * wide

    svg.line(NIGHT_LEFT, MIDDLE, NIGHT_WIDTH - NIGHT_RIGHT, MIDDLE, "dw-grid")
    for (shone, moon), run in groupby(steps, lambda step: (step.light > 0.0, step.moon_deg > 0.0)):
        own = list(run)
        after = steps.index(own[-1]) + 1
        if shone:
            # Joined to what follows, where that is only the Moon.
            own += [step for step in steps[after : after + 1] if step.light > 0.0]
            upper = [(across(step.at), MIDDLE - HALF * step.light) for step in own]
            lower = [(x, 2.0 * MIDDLE - y) for x, y in reversed(upper)]
            svg.polygon([*upper, *lower], "shine moonlit" if moon else "shine")
    for begun, ended in night.moon_up:
        svg.rect(across(begun), MIDDLE + HALF + 6.0, across(ended) - across(begun), 4.0, "moon-bar")
    if night.moon_up:
        x = (across(night.moon_up[0][0]) + across(night.moon_up[0][1])) / 2.0
        svg.text(min(max(x, 40.0), NIGHT_WIDTH - 40.0), MIDDLE + HALF + 22.0, "Moon up", text_anchor="middle")
    _hours(svg, start, steps[-1].at, across)
    for at, name in ((night.dusk, "dark"), (night.dawn, "dawn")):
        if at is not None and start <= at <= steps[-1].at:
            x = across(at)
            svg.line(x, MIDDLE - HALF - 4.0, x, MIDDLE + HALF + 4.0, "night-mark")
            near = "start" if name == "dark" else "end"
            svg.text(x + (3.0 if name == "dark" else -3.0), 12.0, f"{name} {clock(at)}", text_anchor=near)
    svg.close()
    return Markup(str(svg))


def _hours(svg: Svg, start: datetime, end: datetime, across: Callable[[datetime], float]) -> None:
    at = start.replace(minute=0, second=0, microsecond=0) + timedelta(hours=1)
    while at <= end:
        x = across(at)
        svg.line(x, NIGHT_HEIGHT - 26.0, x, NIGHT_HEIGHT - 20.0, "dw-grid")
        if NIGHT_LEFT + 8.0 < x < NIGHT_WIDTH - NIGHT_RIGHT - 8.0:
            svg.text(x, NIGHT_HEIGHT - 6.0, f"{at:%H}", text_anchor="middle")
        at += timedelta(hours=1)


def year_svg(year: Year, words: str) -> Markup:
    """A year of nights side by side, every fifth: down the page from evening to morning by the clock."""
    svg = Svg()
    ribbons = [one for one in year.ribbons if one.light]
    first = min((one.start_h for one in ribbons), default=-6.0)
    last = max((one.start_h + _STEP_H * len(one.light) for one in ribbons), default=6.0)
    first, last = max(-14.0, float(int(first) - 1)), min(14.0, float(int(last) + 1))
    high = YEAR_TOP + (last - first) * PER_HOUR + YEAR_BOTTOM
    svg.head(YEAR_WIDTH, high, "dw ribbon", "year", "The year, night by night", words)
    days = max(1, len(year.ribbons))
    pitch = (YEAR_WIDTH - YEAR_LEFT - 8.0) / days

    def down(hour: float) -> float:
        return YEAR_TOP + (hour - first) * PER_HOUR

    hour = first
    while hour <= last:
        if round(hour) % 3 == 0:
            svg.line(YEAR_LEFT, down(hour), YEAR_WIDTH - 8.0, down(hour), "dw-grid")
            svg.text(YEAR_LEFT - 6.0, down(hour) + 4.0, f"{round(hour) % 24:02d}:00", text_anchor="end")
        hour += 1.0
    shapes: dict[bool, list[str]] = {False: [], True: []}
    for index, ribbon in enumerate(year.ribbons):
        x = YEAR_LEFT + pitch * (index + 0.5)
        for moonlit, shape in _pieces(ribbon, x, pitch * 0.62, down):
            shapes[moonlit].append(shape)
    for moonlit, some in shapes.items():
        if some:
            svg.path(" ".join(some), "shine moonlit" if moonlit else "shine")
    for number, name in enumerate(MONTHS):
        within = [k for k, one in enumerate(year.ribbons) if one.evening.month == number + 1]
        if within:
            x = YEAR_LEFT + pitch * (within[0] + within[-1] + 1) / 2.0
            svg.text(x, high - 8.0, name, text_anchor="middle")
    svg.close()
    return Markup(str(svg))


def _pieces(ribbon: Ribbon, x: float, most: float, down: Callable[[float], float]) -> list[tuple[bool, str]]:
    """The closed shapes of one night, each with whether the Moon is up."""
    found = []
    numbered = enumerate(zip(ribbon.light, ribbon.moon, strict=True))
    for (shone, moon), run in groupby(numbered, lambda one: (one[1][0] > 0.0, one[1][1])):
        own = list(run)
        if not shone:
            continue
        sides = [(most * light / 2.0, down(ribbon.start_h + _STEP_H * k)) for k, (light, _) in own]
        sides.append((sides[-1][0], sides[-1][1] + _STEP_H * PER_HOUR))
        right = [f"{x + half:.1f} {y:.1f}" for half, y in sides]
        left = [f"{x - half:.1f} {y:.1f}" for half, y in reversed(sides)]
        found.append((moon, "M" + "L".join(_thinned(right) + _thinned(left)) + "Z"))
    return found


def _thinned(points: Sequence[str]) -> list[str]:
    """One point an hour and the ends: a ribbon bends slowly."""
    return [point for k, point in enumerate(points) if k % 6 == 0 or k == len(points) - 1]
