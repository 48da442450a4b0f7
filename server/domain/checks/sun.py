"""Is the Sun the target, and is the whole aperture filtered for it?"""

from __future__ import annotations

from server.domain.checks.case import COMMON_PRACTICE, Case, amount, input_of, listed, literal, say, unknown
from server.domain.findings import Amount, Finding, Input, Remedy
from server.domain.measure import nominal
from server.domain.missing import lacks
from server.domain.parts import CataloguedPart, Filter, OpticalTube, is_a

RULES = (
    "Check the filter for holes and scratches each time, and fasten it so that wind cannot take it. "
    "Cap or take off the finder and the guide scope. Never leave the rig unattended."
)
FORMULA = "target is the Sun: a certified filter over the whole aperture, or none of it"
EDGE_MM = 1e-6
"""Float rounding must not turn a verdict."""


def check_sun(case: Case) -> tuple[Finding, ...]:
    """Judge the filter over the front of the tube where the Sun is the target.

    A stop without one and with one that is smaller than the aperture; sound where one of the rig's parts is
    open as wide as the tube; a watch where the owner's word is all there is. The cautions go with each: no
    data can say that a filter is whole.
    """
    plan = case.rig.load
    if not plan.sun:
        return ()
    filters = [gear.item for gear in case.rig.gear if is_a(gear.item, Filter)]
    over = [item for item in filters if item.part.slips_over_tube]
    if over:
        return (_judged(case, over),)
    if plan.solar_filter:
        return (
            _finding(
                "target",
                "watch",
                f"The Sun is the target, behind a full-aperture filter. {RULES}",
                _inputs(case),
            ),
        )
    return (
        _finding(
            "no_filter",
            "stop",
            "The Sun is the target and no solar filter before the tube is named: do not point it there. "
            "Without one the eye is blinded at once and for good, and the camera burns. " + RULES,
            _inputs(case),
            "Fix a certified full-aperture solar filter in front of the tube, and add it beside the train or "
            "say so in the plan of the load; or choose another target. A filter behind the optics does not "
            "do.",
        ),
    )


def _judged(case: Case, over: list[CataloguedPart[Filter]]) -> Finding:
    """The widest of the filters over the tube against the tube's aperture."""
    tube = case.train.tube
    widths = {item.id: nominal(item.part.clear_aperture_mm) for item in over}
    filter_ = max(over, key=lambda item: widths[item.id] or 0.0)
    part = filter_.part
    width = widths[filter_.id]
    aperture = None if tube is None or not isinstance(tube.part, OpticalTube) else tube.part.aperture_mm
    name = literal(filter_.name)
    inputs = (
        *_inputs(case, filter_),
        input_of("clear opening", filter_, part.clear_aperture_mm, "length", 0),
        *(() if tube is None else (input_of("aperture", tube.item, aperture, "length", 0),)),
    )
    missing: list[str] = (
        [] if width is not None else [lacks(filter_, "clear_aperture_mm", "the clear aperture")]
    )
    if tube is None:
        missing.append("an optical tube in the train")
    elif aperture is None:
        missing.append(lacks(tube, "aperture_mm", "the aperture"))
    if width is None or aperture is None:
        sentence = (
            f"The Sun is the target. Whether {name} covers the whole aperture is not known yet: enter "
            f"{literal(listed(missing))}. Until then do not point it there. {RULES}"
        )
        return unknown("sun.cover_unknown", "The Sun", sentence, tuple(missing), source=COMMON_PRACTICE)
    amounts = {"width": amount(width, "length", 0), "aperture": amount(aperture.nominal, "length", 0)}
    if width < aperture.nominal - EDGE_MM:
        return _finding(
            "too_small",
            "stop",
            f"The Sun is the target and {name} is open for {{width}}, the tube for {{aperture}}: it does not "
            f"filter the whole aperture. Do not point it there. {RULES}",
            inputs,
            "Use a certified filter as wide as the tube's aperture, made to fit over its front; or choose "
            "another target.",
            amounts,
        )
    return _finding(
        "filtered",
        "sound",
        f"The Sun is the target; {name} sits over the front of the tube and is as wide as its aperture. Only "
        f"a certified filter does; whether this one is whole, you alone can see. {RULES}",
        inputs,
        amounts=amounts,
    )


def _inputs(case: Case, item: CataloguedPart | None = None) -> tuple[Input, ...]:
    plan, label = "the plan of the load", "certified full-aperture filter before the tube"
    if item is not None:
        named = Input(label=label, amount=None, basis="typed", of="the rig", text=item.name)
    else:
        text = "yes" if case.rig.load.solar_filter else "none named"
        named = Input(label=label, amount=None, basis="typed", of=plan, text=text)
    return (Input(label="target", amount=None, basis="typed", of=plan, text="the Sun"), named)


def _finding(
    code: str,
    weight: str,
    sentence: str,
    inputs: tuple[Input, ...],
    remedy: str = "",
    amounts: dict[str, Amount] | None = None,
) -> Finding:
    return Finding(
        code=f"sun.{code}",
        weight=weight,
        title="The Sun",
        phrase=say(sentence, **(amounts or {})),
        remedies=(Remedy(phrase=say(remedy)),) if remedy else (),
        inputs=inputs,
        formula=FORMULA,
        source=COMMON_PRACTICE,
    )
