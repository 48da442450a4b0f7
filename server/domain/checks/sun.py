"""Is the Sun the target, and the whole aperture filtered for it? Is no solar filter behind the optics?"""

from __future__ import annotations

from server.domain.cautions import SUN_RULES
from server.domain.findings import Amount, Weight
from server.domain.measure import nominal
from server.domain.missing import lacks, wants
from server.domain.parts import CataloguedPart, Filter, OpticalTube, is_a
from server.domain.said import Missing, said
from server.domain.verdicts import Advice, Given, Verdict
from server.domain.workings.case import Case, amount, input_of, not_known

EDGE_MM = 1e-6
"""Float rounding must not turn a verdict."""


def check_sun(case: Case) -> tuple[Verdict, ...]:
    """Judge solar filters: those behind the objective always, and where the Sun is the target the one over
    the front of the tube.

    A stop without one and with one that is smaller than the aperture; sound where one of the rig's parts is
    open as wide as the tube; a watch where the owner's word is all there is. The cautions go with each: no
    data can say that a filter is whole.
    """
    return (*_behind(case), *_target(case))


def _behind(case: Case) -> list[Verdict]:
    """A filter made for the Sun anywhere behind the objective: the light that reaches it is concentrated."""
    tube = case.train.tube
    return [
        Verdict(
            code="sun.behind",
            weight="stop",
            says=(said("sun.behind", filter=item), said("caution.sun.optics"), *map(said, SUN_RULES)),
            remedies=(Advice((said("sun.take_out", slips_over=bool(item.part.slips_over_tube)),)),),
            place=place.key,
        )
        for place in (case.train.places if tube is None else case.train.after(tube))
        for item in (place.item, *place.inside)
        if isinstance(item.part, Filter) and item.part.solar
    ]


def _target(case: Case) -> tuple[Verdict, ...]:
    plan = case.rig.load
    if not plan.sun:
        return ()
    filters = [gear.item for gear in case.rig.gear if is_a(gear.item, Filter)]
    over = [item for item in filters if item.part.slips_over_tube]
    if over:
        return (_judged(case, over),)
    if plan.solar_filter:
        return (_verdict("target", "watch", _inputs(case)),)
    return (_verdict("no_filter", "stop", _inputs(case), "sun.fix_one"),)


def _judged(case: Case, over: list[CataloguedPart[Filter]]) -> Verdict:
    """The widest of the filters over the tube against the tube's aperture."""
    tube = case.train.tube
    widths = {item.id: nominal(item.part.clear_aperture_mm) for item in over}
    filter_ = max(over, key=lambda item: widths[item.id] or 0.0)
    part = filter_.part
    width = widths[filter_.id]
    aperture = None if tube is None or not isinstance(tube.part, OpticalTube) else tube.part.aperture_mm
    inputs = (
        *_inputs(case, filter_),
        input_of("clear opening", filter_, part.clear_aperture_mm, "length", 0),
        *(() if tube is None else (input_of("aperture", tube.item, aperture, "length", 0),)),
    )
    missing: list[Missing] = [] if width is not None else [lacks(filter_, "clear_aperture_mm")]
    if tube is None:
        missing.append(wants("tube_in_train"))
    elif aperture is None:
        missing.append(lacks(tube, "aperture_mm"))
    if width is None or aperture is None:
        says = (said("sun.cover_unknown", filter=filter_, missing=missing), *map(said, SUN_RULES))
        return not_known("sun.cover_unknown", tuple(missing), *says)
    open_mm, tube_mm = amount(width, "length", 0), amount(aperture.nominal, "length", 0)
    if width < aperture.nominal - EDGE_MM:
        return _verdict(
            "too_small", "stop", inputs, "sun.wider", filter=filter_, width=open_mm, aperture=tube_mm
        )
    return _verdict("filtered", "sound", inputs, filter=filter_)


def _inputs(case: Case, item: CataloguedPart | None = None) -> tuple[Given, ...]:
    plan, label = "what the rig is for", "certified full-aperture filter before the tube"
    if item is not None:
        held = Given(label, None, "typed", "the rig", said("opening.part", part=item))
    else:
        held = Given(label, None, "typed", plan, said("sun.named", named=case.rig.load.solar_filter))
    return (Given("target", None, "typed", plan, said("sun.itself")), held)


def _verdict(
    code: str,
    weight: Weight,
    inputs: tuple[Given, ...],
    remedy: str = "",
    **facts: CataloguedPart | Amount,
) -> Verdict:
    return Verdict(
        code=f"sun.{code}",
        weight=weight,
        says=(said(f"sun.{code}", **facts), *map(said, SUN_RULES)),
        remedies=(Advice((said(remedy),)),) if remedy else (),
        inputs=inputs,
    )
