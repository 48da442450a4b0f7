"""What the mount carries against its rating and the usual derating for imaging."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from server.domain.checks.moments import with_moments
from server.domain.findings import Amount, Figure, Weight
from server.domain.load.bar import NEEDS_BAR
from server.domain.measure import Measure
from server.domain.missing import lacks, mass_of, wants
from server.domain.parts import CataloguedPart, Counterweight, Mount
from server.domain.said import Missing, Said, said
from server.domain.verdicts import Advice, Given, Later, Verdict
from server.domain.workings.case import (
    EDGE_KG,
    Case,
    amount,
    digits_apart,
    input_of,
    mass_to_take_off,
    over_and_off,
    rule_input,
    worked_input,
)
from server.domain.workings.loads import Load, loads_of, plates_of
from server.mechanics.payload import load_fraction, total_mass, usable_capacity_kg

A_LITTLE_OVER = 1.1
"""Up to so many times the usual load is only a little over it, and reaches the two thirds of a rating with
which others still image (common practice, no source)."""


@dataclass(frozen=True)
class _Carried:
    """What rides on the saddle: its known mass, what to enter besides, and the inputs of the sum.

    `nothing`: not one of the masses is known. `rings`: what is said of rings that are counted besides.
    """

    known_kg: float
    nothing: bool
    missing: tuple[Missing, ...]
    inputs: Sequence[Given]
    rings: tuple[Said, ...]

    def figure(self, load: Amount) -> Figure | None:
        """The load as the finding's number."""
        return None if self.nothing else Figure(label="load", amount=load, at_least=bool(self.missing))


def check_payload(case: Case) -> tuple[Verdict, ...]:
    """Sum what rides on the saddle, counterweights not counted, and compare it with the mount's rating."""
    loads = loads_of(case)
    if not loads:
        return ()
    unplaced = tuple(lacks(gear.item, "place") for gear in case.rig.gear if gear.item.part.rides_at is None)
    without_mass = dict.fromkeys(mass_of(x.item.id, x.item.name) for x in loads if x.mass_kg is None)
    carried = _Carried(
        known_kg=total_mass((load.item.name, load.mass_kg) for load in loads).known_kg,
        nothing=all(load.mass_kg is None for load in loads),
        missing=(*without_mass, *unplaced),
        inputs=Later(mass_inputs, loads),
        rings=_assumed(case, loads),
    )
    mount = case.rig.mount
    if mount is None or mount.part.rated_kg is None:
        return (with_moments(case, _unrated(mount, carried)),)
    return (with_moments(case, _rated(case, mount, mount.part.rated_kg, carried)),)


def _unrated(mount: CataloguedPart[Mount] | None, carried: _Carried) -> Verdict:
    """The load alone, where there is no rating to hold it against."""
    what = wants("mount") if mount is None else lacks(mount, "rated_kg")
    load, missing = amount(carried.known_kg, "mass", 1), carried.missing
    rating = said("payload.no_rating", add=mount is None, missing=what)
    if carried.nothing:
        says = (rating, *carried.rings, said("payload.nor_load", missing=missing))
    else:
        says = (said("payload.has_to_carry", missing=missing, load=load), rating, *carried.rings)
    return Verdict(
        code="payload.no_rating",
        weight="unknown",
        says=says,
        figure=carried.figure(load),
        inputs=carried.inputs,
        missing=(what, *missing),
    )


def _rated(case: Case, mount: CataloguedPart[Mount], rating: Measure, carried: _Carried) -> Verdict:
    """The load against the rating, and against the share of it that is usual for imaging."""
    load_kg, missing = carried.known_kg, carried.missing
    share, rated = case.rig.rules.payload_share, rating.nominal
    usable = usable_capacity_kg(rated, share)
    digits = max(digits_apart(load_kg, usable), digits_apart(load_kg, rated))
    over, off = over_and_off(load_kg - usable) if load_kg > usable + EDGE_KG else (None, None)
    amounts = {
        "load": amount(load_kg, "mass", digits),
        "rated": amount(rated, "mass", digits_apart(load_kg, rated)),
        "usable": amount(usable, "mass", digits_apart(load_kg, usable)),
        "share": amount(share, "fraction"),
        "taken": amount(load_fraction(load_kg, rated), "fraction"),
        **({} if over is None else {"over": over}),
    }
    remedies: tuple[Advice, ...] = ()
    weight: Weight
    little = load_kg <= A_LITTLE_OVER * usable + EDGE_KG
    if load_kg > rated + EDGE_KG:
        weight, code = "stop", "payload.over_rating"
    elif load_kg > usable + EDGE_KG:
        weight, code = "watch", "payload.over_usable"
    else:
        weight, code = ("unknown", "payload.part_unknown") if missing else ("sound", "payload.sound")
    key = "payload.nothing_known" if carried.nothing else code if off is not None else "payload.sound"
    says = [said(key, mount=mount, missing=missing, little=little, **amounts)]
    if off is not None:
        wanted = mass_to_take_off(load_kg / share)
        wind = little and weight == "watch"
        remedies = (Advice((said("payload.take_off", wind=wind, off=off, wanted=wanted),)),)
    if mount.part.mount_type == "strain_wave":
        says.append(said("payload.strain_wave", rated=mount.part.rated_with))
        asked = _rating_asked(case, mount, mount.part.rated_with)
        if asked and weight == "sound":
            weight, code = "unknown", "payload.rating_unknown"
            missing = (*missing, asked)
    elif mount.part.mount_type in NEEDS_BAR and not _has_weights(case):
        says.append(said("payload.no_weights"))
    says += carried.rings
    if carried.missing:
        says.append(said("not_counted", missing=carried.missing))
    return Verdict(
        code=code,
        weight=weight,
        says=tuple(says),
        figure=carried.figure(amounts["load"]),
        remedies=remedies,
        inputs=Later(
            lambda: (
                *carried.inputs,
                input_of("rated capacity", mount, rating, "mass"),
                rule_input(
                    case,
                    "payload_share",
                    "share of the rating usable for imaging (common practice, no source)",
                    "fraction",
                ),
                worked_input("usable for imaging", usable, "mass", 1),
            )
        ),
        missing=missing,
    )


def _has_weights(case: Case) -> bool:
    return any(isinstance(gear.item.part, Counterweight) for gear in case.rig.gear)


def _rating_asked(case: Case, mount: CataloguedPart, rated_with: str | None) -> Missing | None:
    """What to enter of a strain-wave mount's rating where no counterweight is there."""
    if rated_with == "without" or _has_weights(case):
        return None
    if rated_with is None:
        return lacks(mount, "rated_with")
    return wants("rating_without", mount=mount)


def _assumed(case: Case, loads: list[Load]) -> tuple[Said, ...]:
    """On a tube that is taken to come with rings besides those of the rig."""
    tube = next((load.item for load in loads if load.assumed), None)
    return () if tube is None else (said("payload.own_rings", tube=tube, plates=plates_of(case)),)


def mass_inputs(loads: list[Load]) -> tuple[Given, ...]:
    """The masses of some loads as inputs of a working, each with its own basis."""
    return tuple(
        Given(
            load.label if load.quantity == 1 else said("input.mass_of", count=load.quantity),
            None if load.mass_kg is None else amount(load.mass_kg, "mass", 2),
            _basis(load),
            load.item.name,
        )
        for load in loads
    )


def _basis(load: Load) -> str:
    if load.measure is None:
        return ""
    return "assumed" if load.assumed else load.item.part.basis_of(load.measure)
