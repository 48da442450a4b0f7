"""The off-axis guider's side branch: does it mate, and is the guide camera in focus with the main one?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from server.domain.checks.slide import slide_mm
from server.domain.connections import Connection, Mating, mate, print_connection
from server.domain.findings import Figure, Weight
from server.domain.measure import Measure, nominal
from server.domain.missing import lacks, wants
from server.domain.parts import CataloguedPart, GuideCamera, GuideScope, OffAxisGuider, Shim
from server.domain.rig import Rig
from server.domain.said import Missing, Named, Said, named, said
from server.domain.train import Place
from server.domain.verdicts import Advice, Given, Later, Verdict
from server.domain.workings.case import (
    Case,
    amount,
    input_of,
    not_known,
    worked_input,
)
from server.domain.workings.in_beam import (
    Glass,
    Length,
    beam_ratio,
    glass_in,
    lengths_of,
)

PARFOCAL_MM = 0.5
"""So near to the main path the guide camera is taken as in focus with it (a choice of ours, no source)."""
PLAY_MM = 2.0
"""What sliding the camera in its side port usually makes good (common practice, no source)."""
EDGE_MM = 1e-9


@dataclass(frozen=True)
class GuideJoint:
    """A joint of the branch: what meets there, by name, and the verdict."""

    upper: Named | Said
    lower: Named
    lower_key: int | None
    mating: Mating


@dataclass(frozen=True)
class GuidePaths:
    """The two paths from the prism, mm along the axis.

    Attributes:
        guider, camera: the guider's place, and the guide camera.
        branch: the places between its side port and the guide camera.
        rest_mm: prism to the guider's camera-side shoulder, as it is turned; None while not known.
        behind: known lengths behind the guider, the main camera's flange distance last.
        glass: plates behind the prism whose shift brings the guide camera nearer.
        port_mm: prism to the side port's shoulder; `flange_mm` the guide camera's shoulder to its sensor, its
            window allowed for.
        chain: known lengths of the branch.
        missing: what to enter for both paths to be known; `glass_missing` what to enter for the glass.
    """

    guider: Place[OffAxisGuider]
    camera: CataloguedPart[GuideCamera]
    branch: tuple[Place, ...]
    rest_mm: float | None
    behind: tuple[Length, ...]
    glass: tuple[Glass, ...]
    port_mm: float | None
    flange_mm: float | None
    chain: tuple[Length, ...]
    missing: tuple[Missing, ...]
    glass_missing: tuple[Missing, ...]

    @property
    def main_mm(self) -> float | None:
        """Prism to main sensor, less the shift by glass; None while not known."""
        if self.rest_mm is None or self.missing:
            return None
        shift = sum(plate.shift_mm for plate in self.glass)
        return self.rest_mm + sum(one.measure.nominal for one in self.behind) - shift

    @property
    def guide_mm(self) -> float | None:
        """Prism to guide sensor; None while not known."""
        if self.port_mm is None or self.flange_mm is None or self.missing:
            return None
        return self.port_mm + sum(one.measure.nominal for one in self.chain) + self.flange_mm

    @property
    def error_mm(self) -> float | None:
        """How much the guide path is too long for the main one; negative too short."""
        if self.main_mm is None or self.guide_mm is None:
            return None
        return self.guide_mm - self.main_mm

    @cached_property
    def joints(self) -> tuple[GuideJoint, ...]:
        """Every joint from the side port to the guide camera; a shim lies in a joint and makes none."""
        part = self.guider.part
        camera = self.camera.part
        name: Named | Said
        upper, name = part.side_port, said("guide_branch.side_port", guider=self.guider)
        found: list[GuideJoint] = []
        rows: list[tuple[int | None, Named, Connection | None, Connection | None]] = [
            (place.key, named(place), place.sky_connection, place.camera_connection)
            for place in self.branch
            if not isinstance(place.part, Shim)
        ]
        rows.append((None, named(self.camera), camera.sky_side, None))
        for key, lower, sky, below in rows:
            found.append(GuideJoint(name, lower, key, mate(upper, sky)))
            upper, name = below, lower
        return tuple(found)


def work_guide(rig: Rig) -> GuidePaths | None:
    """Work out both paths; None without an off-axis guider, a main camera or its guide camera.

    A guide camera behind a guide scope is not meant, unless parts of the branch say so.
    """
    guider, camera, train = rig.guider, rig.guide_camera, rig.train
    if guider is None or camera is None or train.camera is None:
        return None
    if not rig.branch and any(isinstance(gear.item.part, GuideScope) for gear in rig.gear):
        return None
    part, guide = guider.part, camera.part
    places = train.after(guider)
    behind, missing = lengths_of(places)
    chain, chain_missing = lengths_of(rig.branch)
    ratio = beam_ratio(train)
    glass, _, glass_missing = glass_in(places, ratio)
    at, long = nominal(part.prism_at_mm), nominal(part.length_mm)
    rest = at if guider.flipped else None if at is None or long is None else long - at
    if at is None:
        missing = (lacks(guider, "prism_at_mm"), *missing)
    elif rest is None:
        missing = (lacks(guider, "length_mm"), *missing)
    if part.side_path_mm is None:
        missing = (*missing, lacks(guider, "side_path_mm"))
    flange = nominal(guide.flange_mm)
    if flange is None:
        missing = (*missing, lacks(camera, "flange_mm"))
    # Its window moves the focus as any plate does, where the flange distance is a ruler's.
    window, unsure, window_missing = glass_in((Place(0, camera),), ratio)
    if flange is not None:
        flange -= sum(plate.shift_mm for plate in window)
    if unsure or guide.flange_quoted == "mechanical":
        glass_missing = (*glass_missing, *window_missing)
    return GuidePaths(
        guider, camera, rig.branch, rest, behind, glass, nominal(part.side_path_mm), flange, chain,
        (*missing, *chain_missing), glass_missing,
    )  # fmt: skip


def check_guide_branch(case: Case) -> tuple[Verdict, ...]:
    """Judge the side branch; silent without a guider and a guide camera that goes with it."""
    paths = work_guide(case.rig)
    if paths is None:
        return ()
    corrector, train = case.train.corrector, case.train
    if corrector is not None and train.index_of(paths.guider) < train.index_of(corrector):
        says = said("guide_branch.before", guider=paths.guider, corrector=corrector)
        return (_verdict("before", "watch", (says,), paths),)
    broken = [joint for joint in paths.joints if not joint.mating.holds]
    if broken:
        return (_broken(paths, broken),)
    if paths.error_mm is None:
        return (not_known("guide_branch.unknown", paths.missing, place=paths.guider.key),)
    return (_judged(paths, paths.error_mm),)


def _broken(paths: GuidePaths, broken: list[GuideJoint]) -> Verdict:
    first = broken[0]
    if not paths.branch:
        part, camera = paths.guider.part, paths.camera.part
        if part.side_port is None or camera.sky_side is None:
            lacking = [lacks(paths.guider, "side_port")] if part.side_port is None else []
            lacking += (
                [lacks(paths.camera, "sky_side", "front_connection")] if camera.sky_side is None else []
            )
            says = said("guide_branch.how_joined", camera=paths.camera, missing=lacking)
            return not_known("guide_branch.unknown", tuple(lacking), says, place=paths.guider.key)
        says = said(
            "guide_branch.open",
            guider=paths.guider,
            camera=paths.camera,
            upper=print_connection(part.side_port),
            lower=print_connection(camera.sky_side),
        )
        what = (wants("guide_parts"),)
        return not_known("guide_branch.open", what, says, place=paths.guider.key)
    says = said("joints.between", upper=first.upper, lower=first.lower, what=first.mating.says)
    if all(joint.mating.verdict == "unknown" for joint in broken):
        return _verdict("joint_unknown", "unknown", (says,), paths)
    return _verdict("joint", "stop", (says,), paths)


def _judged(paths: GuidePaths, error: float) -> Verdict:
    assert paths.main_mm is not None
    assert paths.guide_mm is not None
    amounts = {
        "main": amount(paths.main_mm, "length", 2),
        "guide": amount(paths.guide_mm, "length", 2),
        "off": amount(abs(error), "length", 2),
        "play": amount(PLAY_MM, "length", 1),
    }
    remedies: tuple[Advice, ...] = ()
    weight: Weight
    if abs(error) <= PARFOCAL_MM + EDGE_MM:
        weight, code = "sound", "sound"
    else:
        remedies = (Advice((said("guide_branch.mend", far=error > 0, off=amounts["off"]),)),)
        side = "long" if error > 0 else "short"
        slide = slide_mm(paths.camera.part.sky_side)
        if error < 0 and slide is not None and PARFOCAL_MM < -error <= slide:
            weight, code = "sound", "short_slides"
            remedies = ()
        elif abs(error) <= PLAY_MM + EDGE_MM:
            weight, code = "watch", f"{side}_little"
        else:
            weight, code = "stop", side
    says = [said(f"guide_branch.{code}", camera=paths.camera, **amounts)]
    if paths.glass_missing and weight != "stop":
        weight, code = "unknown", "glass_unknown"
        says.append(said("not_counted", missing=paths.glass_missing))
    return _verdict(
        code,
        weight,
        tuple(says),
        paths,
        remedies=remedies,
        figure=Figure(label="guide path too long", amount=amount(error, "length", 2)),
        missing=paths.glass_missing if code == "glass_unknown" else (),
    )


def _verdict(
    code: str,
    weight: Weight,
    says: tuple[Said, ...],
    paths: GuidePaths,
    remedies: tuple[Advice, ...] = (),
    figure: Figure | None = None,
    missing: tuple[Missing, ...] = (),
) -> Verdict:
    return Verdict(
        code=f"guide_branch.{code}",
        weight=weight,
        says=says,
        figure=figure,
        remedies=remedies,
        inputs=Later(_inputs, paths),
        place=paths.guider.key,
        missing=missing,
    )


def _inputs(paths: GuidePaths) -> tuple[Given, ...]:
    part, camera = paths.guider.part, paths.camera.part

    def given(label: str | Said, item: CataloguedPart, measure: Measure | None) -> Given:
        return input_of(label, item, measure, "length", 2)

    found = [given("prism behind the sky-side shoulder", paths.guider.item, part.prism_at_mm)]
    if not paths.guider.flipped:
        found.append(given("optical length", paths.guider.item, part.length_mm))
    found += [given(one.label, one.place.item, one.measure) for one in paths.behind]
    found += [worked_input(plate.shift_says, plate.shift_mm, "length", 3) for plate in paths.glass]
    found.append(given("prism to side port", paths.guider.item, part.side_path_mm))
    found += [
        given(said("guide_branch.of_branch", label=one.label), one.place.item, one.measure)
        for one in paths.chain
    ]
    found.append(given("flange distance", paths.camera, camera.flange_mm))
    for label, value in (("main path", paths.main_mm), ("guide path", paths.guide_mm)):
        if value is not None:
            found.append(worked_input(label, value, "length", 2))
    return tuple(found)
