"""Sites and own targets as the texts of their forms, and back."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Any, TypeVar
from zoneinfo import available_timezones

from pydantic import ValidationError

from server.domain.errors import FieldErrors
from server.domain.fields import Column, FieldSpec
from server.domain.measure import Frozen, Measure
from server.domain.refusals import sentence_of
from server.domain.sky.site import Site
from server.domain.sky.target import Target
from server.rim.cells import CellError, figure_of, read_cell, write_cell
from server.rim.coordinates import (
    read_arcmin,
    read_declination,
    read_height,
    read_latitude,
    read_longitude,
    read_right_ascension,
    write_declination,
    write_degrees,
    write_right_ascension,
)
from server.rim.sky_words import KIND_WORDS

SITE_SPECS: tuple[FieldSpec, ...] = (
    FieldSpec("name", "Name", "text", maximum=80, help="Such as “The garden”."),
    FieldSpec("latitude_deg", "Latitude", "text", maximum=60, help="Like 50.1 N or 33° 54' S."),
    FieldSpec("longitude_deg", "Longitude", "text", maximum=60, help="Like 8.6 E or 105° 18' W."),
    FieldSpec(
        "height_m", "Height above the sea", "measure", "length", -450e3, 6e6, help="Like 115 m or 380 ft."
    ),
    FieldSpec("zone", "Time zone", "text", maximum=60, help="Like Europe/Berlin; type to choose."),
    FieldSpec(
        "brightness_by",
        "How dark the sky is, said by",
        "choice",
        choices=(
            ("magnitude", "a meter or a map: magnitudes per square arcsecond"),
            ("naked_eye", "the faintest star seen by eye overhead"),
            ("sky_class", "the sky class, 1 to 9"),
        ),
    ),
    FieldSpec(
        "brightness", "The figure", "measure", "plain", help="Like 20.4, 5.2 or 5. Suburbs: about 19 to 20."
    ),
    FieldSpec("seeing_arcsec", "Usual seeing, full width", "measure", "arcsec", 0.3, 20.0),
    FieldSpec(
        "horizon",
        "Lowest usable altitude",
        "table",
        columns=(
            Column("azimuth", "Direction", "angle", 0.0, 360.0),
            Column("altitude", "Altitude", "angle", -5.0, 89.0),
        ),
        help="One number for all round, or a line for each direction: 90: 35 is 35° in the east.",
    ),
)
TARGET_SPECS: tuple[FieldSpec, ...] = (
    FieldSpec("name", "Name", "text", maximum=80),
    FieldSpec("kind", "Kind", "choice", choices=tuple(KIND_WORDS.items())),
    FieldSpec("ra_deg", "Right ascension, J2000", "text", maximum=60, help="Like 20h 45m 38s or 311.4°."),
    FieldSpec("dec_deg", "Declination, J2000", "text", maximum=60, help="Like +30° 42' or -5.4."),
    FieldSpec("major_arcmin", "Long side", "text", maximum=60, help="In arcminutes, or like 3.5°."),
    FieldSpec("minor_arcmin", "Short side", "text", maximum=60, help="Empty: round."),
    FieldSpec(
        "angle_deg",
        "Direction of the long side",
        "measure",
        "angle",
        0.0,
        360.0,
        help="From north through east.",
    ),
    FieldSpec("v_mag", "Magnitude of the whole, V", "measure", "plain", -5.0, 25.0),
    FieldSpec(
        "surface_v_mag",
        "Mean surface brightness, V",
        "measure",
        "plain",
        10.0,
        32.0,
        help="Magnitudes per square arcsecond. Empty: from magnitude and size.",
    ),
)
_Kept = TypeVar("_Kept", bound=Frozen)
_READERS: Mapping[str, Callable[[str], float]] = {
    "latitude_deg": read_latitude,
    "longitude_deg": read_longitude,
    "height_m": read_height,
    "ra_deg": read_right_ascension,
    "dec_deg": read_declination,
    "major_arcmin": read_arcmin,
    "minor_arcmin": read_arcmin,
}
_WANTED = {
    "name": "Give it a name, so that you find it again.",
    "latitude_deg": "The latitude is needed: any map tells it, like 50.1 N.",
    "longitude_deg": "The longitude is needed: any map tells it, like 8.6 E.",
    "zone": "Name the time zone, so that nights are told by your clock: like Europe/Berlin.",
    "ra_deg": "The right ascension is needed, like 20h 45m 38s.",
    "dec_deg": "The declination is needed, like +30° 42'.",
}


@lru_cache(1)
def zones() -> tuple[str, ...]:
    """Every time zone that a site may name."""
    return tuple(sorted(name for name in available_timezones() if "/" in name or name == "UTC"))


def read_site(texts: Mapping[str, str]) -> Site:
    """Return the site that a form describes. Raises FieldErrors, one sentence for each field."""
    texts = dict(texts)
    plain = texts.get("horizon", "").strip()
    if plain and not any(sign in plain for sign in ":;\t\n"):
        texts["horizon"] = f"0: {plain}"
    return _read(Site, SITE_SPECS, texts, {})


def read_name(name: str) -> str:
    """Return the name of a site or a target as a form takes it. Raises FieldErrors."""
    try:
        read: str = read_cell(SITE_SPECS[0], name, "site")
    except CellError as error:
        raise FieldErrors({"name": error.sentence}) from None
    if not read:
        raise FieldErrors({"name": _WANTED["name"]})
    return read


def read_target(texts: Mapping[str, str]) -> Target:
    """Return the own target that a form describes. Raises FieldErrors."""
    return _read(Target, TARGET_SPECS, texts, {"own": True})


def _read(
    cls: type[_Kept], specs: tuple[FieldSpec, ...], texts: Mapping[str, str], more: dict[str, Any]
) -> _Kept:
    values, errors = dict(more), dict[str, str]()
    for spec in specs:
        text = texts.get(spec.name, "").strip()
        if not text:
            if spec.name in _WANTED:
                errors[spec.name] = _WANTED[spec.name]
            continue
        try:
            values[spec.name] = _value(spec, text)
        except CellError as error:
            errors[spec.name] = error.sentence
    names = {spec.name for spec in specs}
    found: _Kept | None = None
    try:
        found = cls.model_validate({name: one for name, one in values.items() if one is not None})
    except ValidationError as refused:
        for detail in refused.errors(include_url=False):
            place = next((str(step) for step in detail["loc"] if step in names), "")
            named, _, rest = sentence_of(detail).partition(": ")
            sentence = rest if named.casefold() in names else sentence_of(detail)
            if detail["type"] != "missing":
                errors.setdefault(
                    place or (named.casefold() if named.casefold() in names else "name"), sentence
                )
    if errors or found is None:
        raise FieldErrors(errors)
    return found


def _value(spec: FieldSpec, text: str) -> Any:
    if spec.name in _READERS:
        return _READERS[spec.name](text)
    value = read_cell(spec, text, "site")
    if spec.shape == "table":
        return tuple((row["azimuth"], row["altitude"]) for row in value)
    return figure_of(value)


def site_texts(site: Site) -> dict[str, str]:
    """Return what the form shows of a site; `read_site` gives back the same."""
    found = _texts(SITE_SPECS, site)
    found["latitude_deg"] = write_degrees(site.latitude_deg, "N", "S")
    found["longitude_deg"] = write_degrees(site.longitude_deg, "E", "W")
    found["height_m"] = f"{site.height_m:g} m"
    points = site.horizon
    found["horizon"] = (
        f"{points[0][1]:g}" if len(points) == 1 else "\n".join(f"{az:g}: {alt:g}" for az, alt in points)
    )
    return found


def target_texts(target: Target) -> dict[str, str]:
    """Return what the form shows of a target; `read_target` gives back the same."""
    found = _texts(TARGET_SPECS, target)
    found["ra_deg"] = write_right_ascension(target.ra_deg, exact=True)
    found["dec_deg"] = write_declination(target.dec_deg, exact=True)
    for name in ("major_arcmin", "minor_arcmin"):
        value = getattr(target, name)
        found[name] = "" if value is None else f"{value:g}"
    return found


def _texts(specs: tuple[FieldSpec, ...], kept: Frozen) -> dict[str, str]:
    found = {}
    for spec in specs:
        value = getattr(kept, spec.name)
        if isinstance(value, float):
            found[spec.name] = (
                f"{value:g}" if spec.dimension == "plain" else write_cell(spec, Measure(nominal=value))
            )
        elif isinstance(value, str):
            found[spec.name] = value
        else:
            found[spec.name] = ""
    return found
