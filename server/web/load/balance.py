"""The balance of a rig as its page shows it: picture, and figures in words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import partial

from markupsafe import Markup

from server.domain.findings import Amount
from server.domain.load.rough import RoughBalance
from server.domain.load.sheet import BalanceSheet, PlaceSum, two_digits
from server.domain.measure import nominal
from server.domain.observer import UnitSystem
from server.domain.parts import Mount, OpticalTube
from server.domain.rig import Rig
from server.domain.said import Said
from server.rim.phrasebook.tell import plain
from server.rim.wording import write_amount
from server.web.load.drawing import SideView, balance_svg
from server.web.picture import BAR_LENGTHS_MM


def write(units: UnitSystem, dimension: str, digits: int, value: float) -> str:
    """An amount as a reader of these units has it."""
    return write_amount(Amount(value=value, dimension=dimension, digits=digits), units)


def seen_of(balance: BalanceSheet, rough: RoughBalance) -> BalanceSheet:
    """What the picture shows: every mass, at its assumed middle where nobody gave another."""
    if balance.worked_mm is not None or not rough.sheet.bodies:
        return balance
    return replace(balance, bodies=rough.sheet.bodies)


def picture_of(rig: Rig, balance: BalanceSheet, rough: RoughBalance, units: UnitSystem) -> Markup:
    """The loaded tube from the side; empty where no mass has a place."""
    tube = rig.train.tube
    part = tube.part if tube and isinstance(tube.part, OpticalTube) else None
    wide = None if part is None else nominal(part.outer_diameter_mm) or nominal(part.aperture_mm)
    mount = rig.mount.part if rig.mount is not None else None
    view = SideView(
        tube_mm=None if part is None else nominal(part.tube_length_mm),
        radius_mm=None if wide is None else wide / 2.0,
        above_mm=rig.load.tube_above_saddle_mm,
        saddle_mm=nominal(mount.saddle_height_mm) if isinstance(mount, Mount) else None,
        between_mm=(rough.centre[0], rough.centre[2])
        if balance.centre_mm is None and rough.centre is not None
        else None,
        bars_mm=BAR_LENGTHS_MM[units],
    )
    return Markup(
        balance_svg(balance, view, partial(write, units, "length", 0), partial(write, units, "mass", 2))
    )


def carried_of(places: Iterable[PlaceSum], units: UnitSystem) -> tuple[tuple[str, str], ...]:
    """What each place carries, in words and values."""
    return tuple(
        (
            plain(Said(f"place.{place.place}")),
            ("at least " if place.missing else "") + write(units, "mass", 2, place.known_kg),
        )
        for place in places
    )


def facts_of(
    balance: BalanceSheet, change_kg: float | None, units: UnitSystem
) -> tuple[tuple[str, str], ...]:
    """Words and values of the balance, as far as they are known."""
    length, mass = partial(write, units, "length", 0), partial(write, units, "mass", 2)
    found: list[tuple[str, str]] = []

    def two(dimension: str, value: float) -> str:
        return write(units, dimension, two_digits(value), value)

    if balance.centre_mm is not None:
        found.append(
            ("balance point from the front", f"{length(balance.centre_mm)} ({balance.centre_basis})")
        )
    if balance.worked_mm is not None and balance.centre_basis == "measured":
        found.append(("the same, worked out", length(balance.worked_mm)))
    if balance.off_mm is not None:
        found.append(("off the clamp", f"{length(abs(balance.off_mm))} {_way(balance.off_mm)}"))
    if balance.imbalance_nm is not None:
        found.append(("torque about declination, clamped there", two("torque", balance.imbalance_nm)))
    if balance.with_change_mm is not None and change_kg is not None:
        changed = f"moves with {mass(abs(change_kg))} {'more' if change_kg >= 0 else 'less'} at the camera"
        found.append((changed, f"{length(abs(balance.with_change_mm))} {_way(balance.with_change_mm)}"))
    if balance.per_racked_mm is not None:
        found.append(("moves for each mm of drawtube", f"{balance.per_racked_mm:.2f} mm"))
    if balance.moment_arm_mm is not None:
        found.append(("load's centre from the polar axis", length(balance.moment_arm_mm)))
    if balance.bar is not None and balance.bar.load_moment_nm is not None:
        found.append(("load's torque about the polar axis", two("torque", balance.bar.load_moment_nm)))
    if balance.inertia_declination is not None:
        found.append(("moment of inertia about declination", two("inertia", balance.inertia_declination)))
    if balance.inertia_polar is not None:
        found.append(("and about the polar axis, at most", two("inertia", balance.inertia_polar)))
    if balance.sag_arcmin is not None:
        found.append(("drawtube's sag", f"{balance.sag_arcmin:.1f} arcmin"))
    return tuple(found)


def _way(moved_mm: float) -> str:
    return "towards the camera" if moved_mm >= 0 else "towards the front"
