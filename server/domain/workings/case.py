"""What a check is handed, and the small words that all checks share."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from server.domain.findings import Amount, AmountDimension
from server.domain.guarded import BEYOND, Failed
from server.domain.measure import Measure
from server.domain.missing import wants
from server.domain.parts import AnyCamera, CataloguedPart
from server.domain.rig import Rig
from server.domain.said import Missing, Said, said
from server.domain.train import Place, Train
from server.domain.verdicts import Given, Verdict
from server.domain.workings.traced import Traced, trace_rig
from server.domain.workings.worked import Optics, Spacing, work_optics, work_spacing
from server.out_of_range import OutOfRangeError

EDGE_KG = 1e-9
"""A microgram of float rounding must not turn a verdict."""
_POUND_KG = 0.45359237
_FINEST = 4
"""Digits after the point of a kilogram: a tenth of a gram, finer than any scale in the field."""
_HALF = 0.499
"""Just less than half a step, so that rounding to the nearest goes up."""


@dataclass(frozen=True)
class Case:
    """A rig before its judge.

    Attributes:
        rig: the rig.
        joiners: by index of a joint that does not mate, the parts on the shelf that would join it.
        rings: by index of a joint behind the corrector, the owned rings and adapters, not yet in this rig,
            that fit into it; empty unless the sensor sits too close.
        swaps: by index of a joint that does not mate, parts of the shelf that would, each with the place of
            the ring or adapter at the joint that it goes in for.
        weights: owned counterweights that are not beside this rig, each with how many of it there are.
    """

    rig: Rig
    joiners: Mapping[int, tuple[CataloguedPart, ...]] = field(default_factory=dict)
    rings: Mapping[int, tuple[CataloguedPart, ...]] = field(default_factory=dict)
    weights: tuple[tuple[CataloguedPart, int], ...] = ()
    swaps: Mapping[int, tuple[tuple[Place, CataloguedPart], ...]] = field(default_factory=dict)

    @property
    def train(self) -> Train:
        """The rig's train."""
        return self.rig.train

    @property
    def optics(self) -> Optics:
        """Focal length and ratio behind the corrector, with where they came from."""
        return self.rig.once(Optics, lambda: work_optics(self.train, self.spacing))

    @property
    def spacing(self) -> Spacing | None:
        """Distances from the corrector's reference shoulder, None without a corrector or a camera."""
        return self.rig.once(Spacing, lambda: work_spacing(self.train))

    @property
    def traced(self) -> Traced | None:
        """The beam, None while a figure that it needs is unknown. Raises ValueError where no image forms."""
        return self.rig.once(Traced, lambda: trace_rig(self.train, self.optics, self.spacing))


@dataclass(frozen=True)
class Check:
    """One check of the registry: its name, which is the first part of its verdicts' codes."""

    name: str
    find: Callable[[Case], Sequence[Verdict]]


# A rig's findings hold some hundred amounts, and most of them stay when one part is moved.
@lru_cache(4096)
def amount(value: float, dimension: AmountDimension, digits: int | None = None) -> Amount:
    """An amount for a sentence. Raises OutOfRangeError for a value that grew beyond all numbers."""
    if not math.isfinite(value):
        raise OutOfRangeError(BEYOND)
    return Amount(value=value, dimension=dimension, digits=digits)


def mass_to_take_off(over_kg: float) -> Amount:
    """How much must go at least, as an amount that is never written as less than it is.

    over_kg: above 0. It has one digit after the point, and more while that would show nothing or twice as
    much as is needed; whoever takes off what is written, in kilograms or in pounds, has taken off enough.
    """
    digits = next((d for d in range(1, _FINEST) if over_kg >= 10.0**-d - EDGE_KG), _FINEST)
    step = 10.0**-digits

    def written_as_enough(times: float) -> float:
        """The least that is written, in a unit of which so many are a kilogram, as no less than is over."""
        return (math.ceil((over_kg - EDGE_KG) * times / step) * step - _HALF * step) / times

    least = max(written_as_enough(1.0), written_as_enough(1.0 / _POUND_KG))
    return amount(max(over_kg, least), "mass", digits)


def over_and_off(over_kg: float) -> tuple[Amount, Amount]:
    """What is too much, and what of it must come off at least: rounded up, that reads as more than the first
    unless the first has a digit more. over_kg: above 0.
    """
    off = mass_to_take_off(over_kg)
    return amount(over_kg, "mass", (off.digits or 0) + 1), off


def digits_apart(one: float, other: float, digits: int = 1) -> int:
    """How many digits tell two masses apart in kg, `digits` at least: 9.04 against 9 wants two."""
    if abs(one - other) <= EDGE_KG:
        return digits
    return next((d for d in range(digits, _FINEST) if f"{one:.{d}f}" != f"{other:.{d}f}"), _FINEST)


def input_of(
    label: str | Said,
    item: CataloguedPart,
    measure: Measure | None,
    dimension: AmountDimension,
    digits: int | None = None,
) -> Given:
    """An input that is a part's figure, with that figure's basis."""
    if measure is None:
        return Given(label, None, "", item.name)
    value = amount(measure.nominal, dimension, digits)
    return Given(label, value, item.part.basis_of(measure), item.name)


def worked_input(
    label: str | Said, value: float, dimension: AmountDimension, digits: int | None = None
) -> Given:
    """An input that was itself worked out."""
    return Given(label=label, amount=amount(value, dimension, digits), basis="worked out")


def sensor_inputs(item: CataloguedPart[AnyCamera]) -> tuple[Given, ...]:
    """What the sensor's size comes from: pixels, pixel size, and the sides worked out from them."""
    part = item.part
    size = part.sensor_mm
    if size is None or part.width_px is None or part.height_px is None:
        return ()
    return (
        Given(label="pixels across", amount=amount(part.width_px, "count"), basis=part.basis, of=item.name),
        Given(label="pixels down", amount=amount(part.height_px, "count"), basis=part.basis, of=item.name),
        input_of("pixel size", item, part.pixel_um, "pixel"),
        worked_input("sensor width", size[0], "length", 2),
        worked_input("sensor height", size[1], "length", 2),
    )


def rule_input(
    case: Case, name: str, label: str, dimension: AmountDimension, digits: int | None = None
) -> Given:
    """An input that is one of the rig's rules, typed by its owner or as this program delivers it."""
    rules = case.rig.rules
    return Given(
        label=label,
        amount=amount(getattr(rules, name), dimension, digits),
        basis="delivered" if rules.is_delivered(name) else "typed",
        of="the rig's rules",
    )


def not_known(
    code: str,
    missing: tuple[Missing, ...],
    *says: Said,
    place: int | None = None,
    working: str = "",
    inputs: tuple[Given, ...] = (),
) -> Verdict:
    """A verdict that says what to enter: by these clauses, or by that of its code with the fact `missing`."""
    return Verdict(
        code=code,
        weight="unknown",
        says=says or (said(code, missing=missing),),
        missing=missing,
        place=place,
        working=working,
        inputs=inputs,
    )


def told(check: str, failed: Failed) -> Verdict:
    """A verdict for figures beyond what a formula holds for, in the formula's own words, or for a fault."""
    if failed.fault:
        return Verdict(f"{check}.fault", "unknown", (failed.why,), working="none")
    missing = (wants("in_range"),)
    says = said("outside", why=failed.why)
    return Verdict(f"{check}.outside", "unknown", (says,), missing=missing, working="outside")
