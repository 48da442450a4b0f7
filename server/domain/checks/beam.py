"""How much light reaches the sensor: centre, sides and corners, what limits, and what would change it."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from server.domain.checks.diagonal import judge_diagonal
from server.domain.checks.prism import judge_prism
from server.domain.findings import Figure, Weight
from server.domain.parts import BaseCamera, Corrector, Filter, OpticalTube
from server.domain.said import Missing, Said, said
from server.domain.verdicts import Advice, Given, Later, Verdict
from server.domain.workings.beam import openings_of
from server.domain.workings.case import (
    Case,
    amount,
    input_of,
    not_known,
    rule_input,
    worked_input,
)
from server.domain.workings.lit import FULL, Lit, lacking_for, lights_of, share_alone, share_without
from server.domain.workings.prism import before_the_corrector
from server.domain.workings.traced import Traced
from server.optics.beam import Beam, diameter_for_share_mm
from server.optics.openings import Opening as Seen

DARK = 0.25
"""A corner that keeps less is lost rather than mended by flat frames (a choice of ours, no source)."""
SHOWN = 0.01
"""A range that is narrower reads as one figure."""
WORTH_IT = 0.03
"""A gain of light for which nobody buys a ring is smaller."""
FAR_AWAY = 1e-5
"""1/mm: an exit pupil a hundred metres away."""
EDGE = 1e-9
"""Float rounding must not turn a verdict at the very share asked for."""


def check_beam(case: Case) -> tuple[Verdict, ...]:
    """Judge the light over the sensor, and the place of a guider's prism."""
    camera = case.train.camera
    if camera is None or case.train.tube is None:
        return ()
    missing = lacking_for(case)
    if missing:
        return (not_known("beam.unknown", tuple(missing)),)
    lights = lights_of(case)
    if not lights:
        lacking = openings_of(case)[1]
        return (not_known("beam.unknown", lacking, said("beam.no_place", missing=lacking)),)
    (lit, *ends), wanted = lights, case.rig.rules.corner_light
    # Whether a corner that is lit well enough loses anything at all is no other verdict.
    verdicts = {
        told if told[0] != "sound" else "sound" for told in (_weighed(one, wanted) for one in (ends or [lit]))
    }
    return (
        _open_verdict(case, lit, ends) if len(verdicts) > 1 else _judged(case, lit, ends),
        *judge_prism(case, lit.beam, lit.width_mm, lit.height_mm, lit.share(_long_side(lit))),
        *judge_diagonal(case, lit),
    )


def _long_side(lit: Lit) -> str:
    return "side" if lit.width_mm >= lit.height_mm else "end"


def _weighed(lit: Lit, wanted: float) -> tuple[Weight, str]:
    """(weight, code) of the light by itself."""
    corner, centre = lit.share("corner"), lit.share("centre")
    weight: Weight = "sound"
    code = "beam.sound" if corner >= FULL else "beam.little"
    if corner < wanted - EDGE:
        weight, code = "watch", "beam.corners"
    if corner < DARK:
        weight, code = "stop", "beam.dark"
    if centre < FULL:
        weight = "stop" if centre < DARK else "watch" if weight == "sound" else weight
        code = "beam.centre"
    if lit.lacking and weight == "sound":
        weight, code = "unknown", "beam.part_unknown"
    return weight, code


def _judged(case: Case, lit: Lit, ends: list[Lit]) -> Verdict:
    wanted = case.rig.rules.corner_light
    quarter, points = lit.quarter, lit.quarter.points
    corner, centre = lit.share("corner"), lit.share("centre")
    fall = quarter.light[points["corner"]] / corner if corner > 0 else 1.0
    lost = sorted(1 - one.share("corner") for one in (ends or [lit]))
    amounts = {
        "lost": amount(1 - corner, "fraction"),
        "least": amount(lost[0], "fraction"),
        "most": amount(lost[-1], "fraction"),
        "wanted": amount(1 - wanted, "fraction"),
        "centre": amount(1 - centre, "fraction"),
        "end": amount(1 - lit.share("end"), "fraction"),
        "side": amount(1 - lit.share("side"), "fraction"),
        "natural": amount(1 - fall, "fraction"),
    }
    remedies: tuple[Advice, ...] = ()
    darkest = min(ends or [lit], key=lambda one: one.share("corner"))
    weight, code = _weighed(darkest, wanted)
    open_range = lost[-1] - lost[0] >= SHOWN
    says = [said("beam.all", **amounts)]
    if darkest.share("corner") < FULL:
        shown = lit if corner < FULL else darkest
        number = shown.quarter.limiting[points["corner"]]
        cuts: dict[str, Any] = {"cuts": shown.opening(number), "round": 0 <= number < len(shown.openings)}
        if cuts["round"]:
            cuts["opening"] = amount(shown.openings[number].diameter_mm, "length", 1)
            cuts["at"] = amount(shown.at_mm[number], "length", 1)
        says = [said("beam.lose", open_range=open_range, **cuts, **amounts)]
        if corner < wanted - EDGE:
            says.append(said("beam.stay_dark" if corner < DARK else "beam.flats", **amounts))
            remedies = _remedies(case, lit)
    if fall < 1 - 0.005:
        says.append(said("beam.fall_off", natural=amounts["natural"]))
    if centre < FULL:
        stops = lit.opening(quarter.limiting[points["centre"]])
        says.append(said("beam.stops_down", cuts=stops, centre=amounts["centre"]))
    if lit.lacking:
        says.append(said("enter", missing=_few(lit.lacking)))
    return Verdict(
        code=code,
        weight=weight,
        says=tuple(says),
        figure=Figure(
            label="light lost in the corner",
            amount=amount(1 - corner, "fraction"),
            uncertainty=(lost[-1] - lost[0]) / 2.0 if open_range else None,
            at_least=bool(lit.lacking),
        ),
        remedies=remedies,
        inputs=Later(_inputs, case, lit),
        missing=lit.lacking,
        working="beam" if lit.prism is None else "beam.with_prism",
    )


def _open_verdict(case: Case, lit: Lit, ends: list[Lit]) -> Verdict:
    """The two ends of what the beam may be judge differently: one figure decides, and the finding names
    it.
    """
    traced = case.traced
    assert traced is not None
    kept = sorted(one.share("corner") for one in ends)
    asks = (traced.asks[0], *lit.lacking) if traced.asks else lit.lacking
    says = [
        said(
            "beam.pupil_unknown",
            decides=asks[0],
            least=amount(kept[0], "fraction"),
            most=amount(kept[-1], "fraction"),
            wanted=amount(case.rig.rules.corner_light, "fraction"),
        )
    ]
    if lit.lacking:
        says.append(said("beam.besides", missing=_few(lit.lacking)))
    return Verdict(
        code="beam.pupil_unknown",
        weight="unknown",
        says=tuple(says),
        figure=Figure(
            label="light lost in the corner",
            amount=amount(1.0 - sum(kept) / len(kept), "fraction"),
            uncertainty=(kept[-1] - kept[0]) / 2.0,
        ),
        inputs=Later(_inputs, case, lit),
        missing=asks,
    )


def _remedies(case: Case, lit: Lit) -> tuple[Advice, ...]:
    """What keeps the corner above the share asked for: a wider opening, or the part moved nearer.

    Nothing where the prism alone takes it below, of which its own finding tells.
    """
    wanted = case.rig.rules.corner_light
    height = lit.corner_mm
    found: list[Advice] = []
    if share_without(lit, []) >= wanted - EDGE:
        return ()
    cutting = [
        i for i, one in enumerate(lit.openings) if share_alone(one, lit.at_mm[i], lit.beam, height) < 1 - EDGE
    ]
    smallest = _smallest(lit, wanted)
    for i in cutting:
        one, needed = lit.openings[i], smallest[i]
        if needed is None:
            continue
        keeps = {"needed": amount(needed, "length", 1), "kept": amount(wanted, "fraction")}
        found.append(Advice((said("beam.wider", cuts=one.says, **keeps),)))
    if not found:
        found += _several(lit, cutting, wanted)
    front = case.train.shoulders[-1].sky_mm or 0.0
    # What stands before a corrector stays there.
    free = [i for i in cutting if not before_the_corrector(case, lit.openings[i].place)]
    found += [r for i in free if (r := _nearer(lit, i, wanted, height, front)) is not None]
    return tuple(found)


def _several(lit: Lit, cutting: list[int], wanted: float) -> list[Advice]:
    """Where no single opening mends it: what wider rings would win back, and what tube and corrector keep."""
    rings = [
        i for i in cutting if not isinstance(lit.openings[i].place.part, OpticalTube | Corrector | BaseCamera)
    ]
    fixed = [lit.openings[i].says for i in cutting if i not in rings]
    wide = [lit.openings[i].says for i in rings]
    kept = share_without(lit, rings)
    if kept >= wanted - EDGE:
        return [Advice((said("beam.all_wider", rings=wide),))] if rings else []
    if not rings or kept - share_without(lit, []) < WORTH_IT:
        return [Advice((said("beam.fixed", fixed=fixed),))]
    return [Advice((said("beam.some_wider", rings=wide, fixed=fixed, kept=amount(kept, "fraction")),))]


def _smallest(lit: Lit, wanted: float) -> list[float | None]:
    """The smallest round opening at each place that keeps the corner, the other openings as they are, mm.

    None where the others alone take more than that, and where no round one stands: it is not solved for.
    """
    return list(_solved(lit.beam, lit.width_mm, lit.height_mm, lit.seen, wanted))


@lru_cache(64)
def _solved(
    beam: Beam, width: float, height: float, seen: tuple[Seen, ...], wanted: float
) -> tuple[float | None, ...]:
    from server.optics.light_map import smallest_diameters_mm

    return smallest_diameters_mm(beam, width, height, seen, wanted)


def _nearer(lit: Lit, number: int, wanted: float, height: float, front_mm: float) -> Advice | None:
    """A filter that is wide enough for the corner once it stands nearer the sensor, at the camera at most."""
    one, at = lit.openings[number], lit.at_mm[number]
    if not isinstance(one.item.part, Filter) or isinstance(one.place.part, Corrector):
        return None
    if share_alone(one, at, lit.beam, height) >= wanted:
        return None
    low, high = max(0.1, front_mm), at
    if low >= high or share_alone(one, low, lit.beam, height) < wanted:
        return None
    for _ in range(20):
        middle = (low + high) / 2.0
        low, high = (middle, high) if share_alone(one, middle, lit.beam, height) >= wanted else (low, middle)
    by, there = amount(at - low, "length", 1), amount(low, "length", 1)
    return Advice((said("beam.nearer", filter=one.item, by=by, at=there, kept=amount(wanted, "fraction")),))


def _inputs(case: Case, lit: Lit) -> tuple[Given, ...]:
    beam = lit.beam
    wanted = case.rig.rules.corner_light
    height = lit.corner_mm
    traced = case.traced
    points, quarter = lit.quarter.points, lit.quarter
    obstruction = Given(
        label="central obstruction, its shadow in the pupil",
        amount=amount(beam.obstruction, "fraction"),
        basis="assumed" if case.optics.obstruction is None else "worked out",
    )
    inputs: list[Given] = [
        worked_input("focal ratio at the sensor", beam.focal_ratio, "ratio"),
        worked_input("image height of the corner", height, "length", 2),
        *_pupil_inputs(traced),
        obstruction,
        rule_input(
            case, "corner_light", "light the corner should keep (common practice, no source)", "fraction"
        ),
        worked_input(
            "light at the corner, natural fall-off too", quarter.light[points["corner"]], "fraction"
        ),
        worked_input("the same at the short sides' middles", quarter.light[points["end"]], "fraction"),
        worked_input("the same at the long sides' middles", quarter.light[points["side"]], "fraction"),
    ]
    alone = [share_alone(one, at, beam, height) for one, at in zip(lit.openings, lit.at_mm, strict=True)]
    # Where nothing is cut, what one opening must be by itself is what it must be among the others.
    together = _smallest(lit, wanted) if min(alone) < 1 - EDGE else None
    for i, (one, at) in enumerate(zip(lit.openings, lit.at_mm, strict=True)):
        smallest = diameter_for_share_mm(beam, max(0.0, at), wanted, height)
        inputs += [
            input_of("opening" if not one.square else "square opening", one.item, one.measure, "length", 1),
            worked_input("its distance before the sensor, in air", at, "length", 1),
            worked_input("light it passes to the corner, alone", alone[i], "fraction"),
            worked_input("smallest round opening there, alone", smallest, "length", 1),
        ]
        if together is not None:
            inputs.append(_among_the_others(together[i], one.square or one.offset_mm is not None))
    return tuple(inputs)


def _pupil_inputs(traced: Traced | None) -> list[Given]:
    """Where the exit pupil lies, or between what it may: by the inverse, since it may lie beyond infinity."""
    if traced is None:
        return []
    if traced.known:
        return [_pupil_input(traced.beam.per_pupil, "worked out", "")]
    least, most = (one.per_pupil for one in traced.ends)
    return [_pupil_input(least, "assumed", "one"), _pupil_input(most, "assumed", "other")]


def _pupil_input(per_pupil: float, basis: str, end: str) -> Given:
    label = said("beam.exit_pupil", behind=per_pupil < -FAR_AWAY, end=end)
    if abs(per_pupil) < FAR_AWAY:
        return Given(label, None, basis, note=said("beam.far_away"))
    return Given(label, amount(abs(1.0 / per_pupil), "length", 0), basis)


def _among_the_others(diameter: float | None, square: bool) -> Given:
    label = "smallest round opening there, the others as they are"
    if diameter is not None:
        return worked_input(label, diameter, "length", 1)
    return Given(label, None, "worked out", note=said("beam.no_smallest", square=square))


def _few(words: tuple[Missing, ...]) -> list[Missing | Said]:
    """A sentence names three and counts the rest; `missing` has them all."""
    return [*words] if len(words) <= 4 else [*words[:3], said("more", count=len(words) - 3)]
