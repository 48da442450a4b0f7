"""What a form, a CSV column and a sheet need to know of one field: its words, its dimension, its limits.

A part class declares each of its fields with one of the helpers below, so that the label, the unit and the
limits stand beside the field itself and nowhere else.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from pydantic import Field
from pydantic.fields import FieldInfo

Dimension = Literal[
    "length",
    "mass",
    "angle",
    "arcsec",
    "pixel",
    "spot",
    "wavelength",
    "current",
    "voltage",
    "charge",
    "temperature_difference",
    "temperature",
    "time",
    "ratio",
    "fraction",
    "count",
    "electrons",
    "dark_current",
    "conversion",
    "plain",
]
"""The dimensions of fields; `units.py` knows the fixed unit of each and how people write it."""

FieldShape = Literal[
    "text", "long_text", "measure", "count", "money", "connection", "flag", "choice", "choices", "table"
]

Role = Literal[
    "", "carries", "bears", "draws", "voltage", "least_voltage", "longest", "step", "glass", "index"
]
"""What checks ask of any part by: a figure with a role is judged, whatever kind it belongs to."""


@dataclass(frozen=True)
class Column:
    """One column of a table field: plain floats in the fixed unit of its dimension."""

    name: str
    label: str
    dimension: Dimension
    minimum: float | None = None
    maximum: float | None = None


@dataclass(frozen=True)
class FieldSpec:
    """How one field is asked for and shown.

    Attributes:
        name: attribute of the part, with its unit in it where it is a number.
        label: what the form says.
        shape: what kind of value it holds.
        dimension: for measures and counts.
        minimum, maximum: allowed range in the fixed unit; `above` makes the minimum exclusive.
        choices: (value, words) for a choice.
        columns: for a table.
        help: one line under the field.
        group: heading under which the form places it.
        role: what checks ask of any part by it, "" for what they ask of its kind alone.
    """

    name: str
    label: str
    shape: FieldShape
    dimension: Dimension = "plain"
    minimum: float | None = None
    maximum: float | None = None
    above: bool = False
    choices: tuple[tuple[str, str], ...] = ()
    columns: tuple[Column, ...] = ()
    help: str = ""
    group: str = "Figures"
    role: Role = ""


def _field(default: Any, **spec: Any) -> Any:
    return Field(default=default, json_schema_extra={"spec": spec})


def text(label: str, help: str = "", *, long: bool = False, group: str = "Name", maximum: int = 200) -> Any:
    """A text field; `maximum` is its longest length in characters."""
    shape = "long_text" if long else "text"
    return Field(
        default="",
        max_length=maximum,
        json_schema_extra={
            "spec": {"label": label, "shape": shape, "help": help, "group": group, "maximum": maximum}
        },
    )


def measure(
    label: str,
    dimension: Dimension,
    maximum: float,
    *,
    minimum: float = 0.0,
    above: bool = True,
    help: str = "",
    group: str = "Figures",
    role: Role = "",
) -> Any:
    """A quantity with optional tolerance, None while unknown. Limits are in the fixed unit of `dimension`."""
    return _field(
        None,
        label=label,
        shape="measure",
        dimension=dimension,
        minimum=minimum,
        maximum=maximum,
        above=above,
        help=help,
        group=group,
        role=role,
    )


def mass(maximum_kg: float) -> Any:
    """The part's own mass. The limit is its kind's: grams typed for kilograms are seen (450 for 0.45).

    All limits are choices of ours, well above the heaviest of their kind; no source.
    """
    return measure("Mass", "mass", maximum_kg, help="450 g, or 0.45: a bare number counts kilograms.")


def supply_voltage(group: str = "Power") -> Any:
    """The voltage that a device is made to be fed with."""
    return measure("Runs at", "voltage", 60.0, group=group, role="voltage")


def least_voltage(group: str = "Power") -> Any:
    """The least voltage at which a device still works, for the drop in its cable."""
    return measure(
        "Least voltage it bears",
        "voltage",
        60.0,
        help="Like 11 V for a device of 12 V.",
        group=group,
        role="least_voltage",
    )


def current(help: str = "", group: str = "Figures") -> Any:
    """The current that a device takes while it is on or moves."""
    return measure("Current", "current", 50.0, above=False, help=help, group=group, role="draws")


def capacity(label: str = "Capacity", group: str = "Figures") -> Any:
    """What a part of the train is rated to carry of what hangs behind it."""
    return measure(label, "mass", 100.0, group=group, role="carries")


def longest() -> Any:
    """The longest length of a part that can be set to several."""
    return measure(
        "Longest length, if adjustable",
        "length",
        500.0,
        help="The optical length above is then its shortest.",
        role="longest",
    )


def length_step() -> Any:
    """The step in which the length of such a part is set."""
    return measure("Step of adjustment", "length", 50.0, role="step")


def glass_thickness() -> Any:
    """The thickness of a plane plate of glass across the beam."""
    return measure("Glass thickness", "length", 20.0, role="glass")


def glass_index() -> Any:
    """The refractive index of that glass."""
    return measure(
        "Refractive index",
        "plain",
        3.0,
        minimum=1.0,
        above=False,
        help="1.52 for common optical glass.",
        role="index",
    )


def count(label: str, maximum: int, *, minimum: int = 1, help: str = "", group: str = "Figures") -> Any:
    """A whole number, None while unknown."""
    return _field(
        None,
        label=label,
        shape="count",
        dimension="count",
        minimum=minimum,
        maximum=maximum,
        help=help,
        group=group,
    )


def connection(label: str, help: str = "", group: str = "Connections") -> Any:
    """A mechanical connection, None while unknown."""
    return _field(None, label=label, shape="connection", help=help, group=group)


def flag(label: str, help: str = "", group: str = "Figures", default: bool | None = None) -> Any:
    """Yes, no, or (None) not known."""
    return _field(default, label=label, shape="flag", help=help, group=group)


def choice(label: str, choices: tuple[tuple[str, str], ...], help: str = "", group: str = "Figures") -> Any:
    """One of `choices` (value, words), None while unknown."""
    return _field(None, label=label, shape="choice", choices=choices, help=help, group=group)


def several(label: str, choices: tuple[tuple[str, str], ...], help: str = "", group: str = "Figures") -> Any:
    """Any of `choices`, kept as a tuple in their order."""
    return _field((), label=label, shape="choices", choices=choices, help=help, group=group)


def table(label: str, columns: tuple[Column, ...], help: str = "", group: str = "Tables") -> Any:
    """Rows of plain numbers."""
    return _field((), label=label, shape="table", columns=columns, help=help, group=group)


def money(label: str, help: str = "", group: str = "Name") -> Any:
    """A price with its currency, None while unknown."""
    return _field(None, label=label, shape="money", help=help, group=group)


BASES: tuple[tuple[str, str], ...] = (
    ("typed", "not said"),
    ("maker", "the maker's figures"),
    ("measured", "measured by me"),
    ("assumed", "assumed"),
)


def basis_of_figures() -> Any:
    """Where a part's figures come from, unless a figure says otherwise."""
    return _field("typed", label="Where the figures come from", shape="choice", choices=BASES, group="Name")


def spec_of(name: str, info: FieldInfo) -> FieldSpec | None:
    """Return the spec that a field was declared with, None for a field without one (such as `kind`)."""
    extra = info.json_schema_extra
    if not isinstance(extra, dict) or "spec" not in extra:
        return None
    return FieldSpec(name=name, **extra["spec"])  # type: ignore[arg-type]
