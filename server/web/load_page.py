"""The load of a rig as its templates see it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import ClassVar

from markupsafe import Markup

from server.domain.fields import FieldSpec
from server.domain.findings import Amount, Finding
from server.domain.load.sheet import LoadSheet
from server.domain.load.work import work_load
from server.domain.measure import nominal
from server.domain.observer import UnitSystem
from server.domain.parts import CataloguedPart, OpticalTube
from server.flow.workbench import BenchView
from server.rim.load_form import LEAD_SPECS, LIFT_SPECS, LOAD_SPECS, load_texts
from server.rim.wording import write_amount
from server.web.drawing.balance import balance_svg

ORDER = ("stop", "watch", "unknown", "sound")


@dataclass(frozen=True)
class LoadPage:
    """The load of one rig.

    Attributes:
        rig_id, name, version: the rig; every change names the version that it was made on.
        sheet: what is worked out, None where figures are out of every range; `trouble` then says why.
        findings: of the load, the Sun's first.
        picture: the balance from the side, empty where nothing has a known place.
        facts: words and values of the balance.
        specs, typed, errors: the form of what the owner says.
        lift_specs, lift_typed, lift_errors, lift_parts: the form of one lift more, and what can be ticked.
        lifted: numbers ticked there.
        lead_specs, lead_typed, lead_errors: the form of one device's lead; `lead_part` the device chosen
        there. said: what has just been done.
    """

    template: ClassVar[str] = "load/load.html"

    rig_id: int
    name: str
    version: int
    sheet: LoadSheet | None
    trouble: str
    findings: tuple[Finding, ...]
    picture: Markup
    facts: tuple[tuple[str, str], ...]
    specs: tuple[FieldSpec, ...]
    typed: Mapping[str, str]
    errors: Mapping[str, str]
    lift_specs: tuple[FieldSpec, ...]
    lift_typed: Mapping[str, str]
    lift_errors: Mapping[str, str]
    lift_parts: tuple[CataloguedPart, ...]
    lifted: tuple[int, ...]
    lead_specs: tuple[FieldSpec, ...]
    lead_typed: Mapping[str, str]
    lead_errors: Mapping[str, str]
    lead_part: int | None
    said: str


@dataclass(frozen=True)
class PackingPage:
    """What goes in which case, with its masses and a box to tick.

    Attributes:
        sheet: as on the load's page; None where it cannot be worked out, `trouble` says why.
        cases: by part what is typed; errors by "case-<part>".
    """

    template: ClassVar[str] = "load/packing.html"

    rig_id: int
    name: str
    version: int
    sheet: LoadSheet | None
    trouble: str
    cases: Mapping[int, str]
    errors: Mapping[str, str]
    items: tuple[CataloguedPart, ...]


def items_of(view: BenchView) -> tuple[CataloguedPart, ...]:
    """Every part of the rig, each once."""
    rig = view.rig
    found = [item for place in (*rig.train, *rig.branch) for item in (place.item, *place.inside)]
    found += [gear.item for gear in rig.gear]
    return tuple({item.id: item for item in found}.values())


def _worked(view: BenchView) -> tuple[LoadSheet | None, str]:
    try:
        return work_load(view.rig, view.findings), ""
    except (ValueError, ArithmeticError) as error:
        words = str(error) if isinstance(error, ValueError) else "A figure is beyond all that is ever built."
        return None, words


def load_page(view: BenchView, units: UnitSystem, said: str = "", **more: object) -> LoadPage:
    """Build the page; `more` are fields of it that a form's answer sets."""
    sheet, trouble = _worked(view)
    tube = view.rig.train.tube
    long = nominal(tube.part.tube_length_mm) if tube and isinstance(tube.part, OpticalTube) else None
    write_length = partial(_write, units, "length", 0)
    write_mass = partial(_write, units, "mass", 2)
    picture = balance_svg(sheet.balance, long, write_length, write_mass) if sheet else ""
    known: dict[str, object] = {
        "typed": load_texts(view.rig.load),
        "errors": {},
        "lift_typed": {"trips": "1", "people": "1"},
        "lift_errors": {},
        "lifted": (),
        "lead_typed": {},
        "lead_errors": {},
        "lead_part": None,
        **more,
    }
    findings = sheet.findings if sheet else ()
    return LoadPage(
        rig_id=view.stored.id,
        name=view.stored.name,
        version=view.stored.version,
        sheet=sheet,
        trouble=trouble,
        findings=tuple(
            sorted(findings, key=lambda f: (not f.code.startswith("sun."), ORDER.index(f.weight)))
        ),
        picture=Markup(picture),
        facts=_facts(sheet, units) if sheet else (),
        specs=LOAD_SPECS,
        lift_specs=LIFT_SPECS,
        lead_specs=LEAD_SPECS,
        lift_parts=items_of(view),
        said=said,
        **known,  # type: ignore[arg-type]
    )


def packing_page(view: BenchView, **more: object) -> PackingPage:
    """Build the packing list; `more` as above."""
    sheet, trouble = _worked(view)
    cases = {line.part_id: line.case for line in view.rig.load.cases}
    known: dict[str, object] = {"cases": cases, "errors": {}, **more}
    return PackingPage(
        rig_id=view.stored.id,
        name=view.stored.name,
        version=view.stored.version,
        sheet=sheet,
        trouble=trouble,
        items=items_of(view),
        **known,  # type: ignore[arg-type]
    )


def _write(units: UnitSystem, dimension: str, digits: int, value: float) -> str:
    return write_amount(Amount(value=value, dimension=dimension, digits=digits), units)


def _facts(sheet: LoadSheet, units: UnitSystem) -> tuple[tuple[str, str], ...]:
    balance = sheet.balance
    length, mass = partial(_write, units, "length", 0), partial(_write, units, "mass", 2)
    found: list[tuple[str, str]] = []
    if balance.centre_mm is not None:
        found.append(
            ("balance point from the front", f"{length(balance.centre_mm)} ({balance.centre_basis})")
        )
    if balance.worked_mm is not None and balance.centre_basis == "measured":
        found.append(("the same, worked out", length(balance.worked_mm)))
    if balance.off_mm is not None:
        way = "towards the camera" if balance.off_mm >= 0 else "towards the front"
        found.append(("off the clamp", f"{length(abs(balance.off_mm))} {way}"))
    if balance.imbalance_nm is not None:
        found.append(("torque about declination, clamped there", f"{balance.imbalance_nm:.2f} N m"))
    if balance.per_racked_mm is not None:
        found.append(("moves for each mm of drawtube", f"{balance.per_racked_mm:.2f} mm"))
    if balance.moment_arm_mm is not None:
        found.append(("load's centre from the polar axis", length(balance.moment_arm_mm)))
    if balance.bar is not None and balance.bar.load_moment_nm is not None:
        found.append(("load's torque about the polar axis", f"{balance.bar.load_moment_nm:.1f} N m"))
    if balance.inertia_declination is not None:
        found.append(("moment of inertia about declination", f"{balance.inertia_declination:.3f} kg m²"))
    if balance.inertia_polar is not None:
        found.append(("and about the polar axis, at most", f"{balance.inertia_polar:.3f} kg m²"))
    if balance.sag_arcmin is not None:
        found.append(("drawtube's sag", f"{balance.sag_arcmin:.1f} arcmin"))
    for place in sheet.places:
        if place.pieces:
            least = "at least " if place.missing else ""
            found.append((place.words, f"{least}{mass(place.known_kg)}"))
    return tuple(found)
