"""What frames are told to say: from simulated ones of a known rig to the screw, the shim and the spacing."""

from __future__ import annotations

import cmath
import math
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pytest
from astropy.io import fits
from PIL import Image

from server.domain.frames.asked import FrameAsked, SetAsked
from server.domain.frames.beside import HALF_FLUX_BY_WIDTH
from server.domain.frames.correcting import correction_of
from server.domain.frames.findings import judge_frames
from server.domain.frames.measured import Light, Measured, PlateFound, Screws, Value
from server.domain.frames.measuring import measure_set
from server.domain.frames.plan import FramePlan, plan_frames
from server.domain.rig import FieldSeen
from server.domain.stars.field import work_stars
from server.domain.stars.telescope import telescope_of
from server.domain.stars.wishes import StarWishes
from server.domain.verdicts import Verdict
from server.domain.workings.case import Case
from server.rim.phrasebook.tell import plain as plain_words
from server.rim.phrasebook.tell import tell
from server.rim.wording import write_phrase
from tests.domain.rigs import camera, case, corrector, ring, tube
from tests.frames.simulator import Field, Night, Optics, frame, stretched

AWAY_UM = 75.0
"""Four pixels times the focal ratio of `OPTICS`."""
OPTICS = Optics(columns=1500, rows=1000, wave_um=0.55)
TILT = 40.0 * cmath.exp(1j * math.radians(60.0))
RIGHT_MM, WRONG_MM = 55.1, 0.6
"""Where the corrector is flat, and by how much the sensor stands too far back at first."""
CURVE_PER_MM, LINES_PER_MM = 40.0, 30.0
"""Of an invented corrector."""
NIGHT = Night(fwhm_px=2.6, drift_px=1.0, drift_deg=40.0)
LIGHT = Light(focal_ratio=OPTICS.focal_ratio, obstruction=0.0, pixel_um=OPTICS.pixel_um)
SCREWS = Screws(radius_mm=30.0, angles_deg=(90.0, 210.0, 330.0), pitch_mm=0.5)
PLAN = FramePlan(light=LIGHT, zone_um=25.0, asked_mm=55.7)


def taken(
    folder: Path, spacing_mm: float, tilt: complex, seed: int, positions=(AWAY_UM, -AWAY_UM)
) -> Measured:
    """A set at a spacing, with the rows counting upwards."""
    off = spacing_mm - RIGHT_MM
    optics = replace(OPTICS, tilt=tilt, curvature=CURVE_PER_MM * off, astigmatism=LINES_PER_MM * off)
    frames = []
    for number, at_um in enumerate(positions):
        pixels = frame(
            optics, NIGHT, Field(seed=seed, stars=320), at_um, noise=number, shift=complex(number, 2)
        )
        file = folder / f"{seed}-{number}.fits"
        fits.writeto(file, np.asarray(pixels).astype(np.uint16))
        frames.append(FrameAsked(file=str(file), name=file.name, focuser=5000.0 + at_um * 5.0))
    asked = SetAsked(frames=tuple(frames), light=LIGHT, step_um=0.2, spacing_mm=spacing_mm)
    return measure_set(asked, datetime(2027, 3, 1, tzinfo=UTC))


@pytest.fixture(scope="module")
def before(tmp_path_factory: pytest.TempPathFactory) -> Measured:
    return taken(tmp_path_factory.mktemp("before"), RIGHT_MM + WRONG_MM, TILT, 1)


@pytest.fixture(scope="module")
def closer(tmp_path_factory: pytest.TempPathFactory) -> Measured:
    return taken(tmp_path_factory.mktemp("closer"), RIGHT_MM + WRONG_MM - 1.0, TILT, 2)


@pytest.fixture(scope="module")
def after(tmp_path_factory: pytest.TempPathFactory) -> Measured:
    return taken(tmp_path_factory.mktemp("after"), RIGHT_MM, 0.05 * TILT, 3)


def plain() -> Case:
    """The plain rig of the checks' tests: 800 mm at f/4, a corrector that asks for 55 mm."""
    return case(tube(), corrector(), ring(37.5), camera())


def judged(measured: Measured, *others: Measured, plan: FramePlan = PLAN) -> dict[str, Verdict]:
    found = judge_frames(measured, plain(), plan, others)
    return {one.code: one for one in found}


def sentence(verdict: Verdict) -> str:
    finding = tell(verdict)
    told = [write_phrase(one.phrase, "metric") for one in finding.remedies]
    return " ".join([write_phrase(finding.phrase, "metric"), *told])


def test_the_tilt_the_screw_and_the_shim_are_told_within_their_errors(before: Measured):
    surface = before.surface
    assert surface is not None
    assert abs(surface.tilt - TILT) < 2.0 * math.hypot(surface.tilt_u.error, surface.tilt_v.error)
    told = correction_of(before.model_copy(update={"screws": SCREWS}))
    assert told is not None
    # By hand: the sensor must follow best focus, t.X / half diagonal at each screw, less the least of them.
    half_mm = 0.5 * math.hypot(1500, 1000) * 0.00376
    heights = [
        (TILT.conjugate() * cmath.rect(30.0, math.radians(angle))).real / half_mm for angle in (90, 210, 330)
    ]
    for screw, height in zip(told.screws, heights, strict=True):
        assert abs(screw.shim_um - (height - min(heights))) < 2.0 * screw.error_um
        assert screw.turns == pytest.approx(screw.shim_um / 500.0)
    said = sentence(judged(before.model_copy(update={"screws": SCREWS}))["frames.tilt"])
    assert "towards the top right" in said
    assert "screw 1, at 90°" in said
    assert "a readout may be mirrored or turned: first move screw 2 alone" in said


def test_two_spacings_tell_the_right_one_and_one_alone_does_not(before: Measured, closer: Measured):
    assert not any(code.startswith("frames.spacing") for code in judged(before))
    told = judged(closer, before)["frames.spacing"]
    assert told.figure is not None
    assert told.figure.amount.value == pytest.approx(RIGHT_MM, abs=0.1)
    assert "Put 0.4" in sentence(told)
    assert "Take 0.6" in sentence(judged(before, closer)["frames.spacing"])


def test_after_the_correction_nothing_is_left_to_do_but_the_drift(
    before: Measured, closer: Measured, after: Measured
):
    told = judged(after, before, closer)
    assert {code for code, one in told.items() if one.weight == "watch"} == {"frames.drift"}
    assert {"frames.spacing_right", "frames.flat", "frames.no_astigmatism"} <= told.keys()
    assert before.surface is not None
    assert after.surface is not None
    assert after.surface.across_um < 0.15 * before.surface.across_um


def test_a_drift_is_told_with_its_direction_and_is_not_the_fields(before: Measured):
    said = sentence(judged(before)["frames.drift"])
    assert "by 1.0 px" in said or "by 0.9 px" in said or "by 1.1 px" in said
    assert before.drift is not None
    assert math.degrees(cmath.phase(before.drift.whole)) / 2.0 == pytest.approx(40.0, abs=4.0)


def test_one_frame_is_a_hint_with_both_mirror_answers_and_never_a_shim(tmp_path: Path):
    one = taken(tmp_path, RIGHT_MM - 0.5, TILT, 4, positions=(AWAY_UM,))
    told = judged(one)["frames.hint_either"]
    assert "towards the top right if the sensor stood too far out, towards the bottom left if too far in" in (
        sentence(told)
    )
    assert one.surface is None
    assert correction_of(one.model_copy(update={"screws": SCREWS})) is None
    assert one.hint is not None
    sided = one.model_copy(update={"hint": one.hint.model_copy(update={"side": "out"})})
    assert "top right" in sentence(judged(sided)["frames.hint"])


def test_frames_that_were_taken_at_one_position_say_so(tmp_path: Path):
    one = taken(tmp_path, RIGHT_MM, TILT, 5, positions=(20.0, 22.0))
    assert one.trouble == "one_place"
    assert judged(one)["frames.one_place"].weight == "stop"


def test_two_zeros_that_disagree_are_told_as_what_no_spacing_cures(before: Measured, closer: Measured):
    assert closer.surface is not None
    astigmatism = Value(value=closer.surface.astigmatism.value - 25.0, error=1.0)
    torn = closer.model_copy(
        update={"surface": closer.surface.model_copy(update={"astigmatism": astigmatism})}
    )
    assert "no spacing cures both" in sentence(judged(torn, before)["frames.spacing_torn"])


def test_a_cropped_a_stacked_and_a_resampled_frame_are_told_for_what_they_are(before: Measured):
    first = before.frames[0].model_copy(update={"stacked": 12, "alike": 0.3})
    odd = before.model_copy(update={"sensor_px": (3000, 2000), "frames": (first, *before.frames[1:])})
    # Half the sides of the sensor is a crop unless the frame is binned by two.
    assert "frames.cropped" in judged(odd)
    assert "frames.cropped" not in judged(odd.model_copy(update={"binning": 2}))
    told = judged(odd.model_copy(update={"sensor_px": (3100, 2400)}))
    assert {"frames.cropped", "frames.stacked", "frames.resampled"} <= told.keys()
    assert "they are cropped" in sentence(told["frames.cropped"])
    other = judged(odd.model_copy(update={"sensor_px": (1200, 900)}))
    assert "they are not this camera's" in sentence(other["frames.cropped"])


def test_a_solved_picture_tells_focal_length_and_factor(before: Measured):
    rig = plain()
    promised = rig.optics.focal_length_mm
    assert promised
    solved = before.model_copy(
        update={"plate": PlateFound(scale_arcsec=1.0, mirrored=False, focal_mm=0.96 * promised)}
    )
    told = judge_frames(solved, rig, PLAN)
    verdict = next(one for one in told if one.code == "frames.plate")
    assert verdict.weight == "watch"
    assert "works at 0.96" in sentence(verdict)


def test_the_plan_says_four_pixels_of_disc_and_the_motors_steps():
    plan = plan_frames(plain())
    assert plan.light is not None
    # A disc of 4 pixels: the cone's diameter is defocus / N.
    assert plan.away_um == pytest.approx(4.0 * plan.light.focal_ratio * plan.light.pixel_um)


def test_a_stars_half_flux_diameter_is_what_its_width_is_told_from():
    rig = plain()
    telescope = telescope_of(rig)
    assert telescope is not None
    star = work_stars(rig, telescope, StarWishes(seeing_arcsec=3.0, guiding_arcsec=0.0)).centre
    values, step = star.seen.values, star.seen.step_um
    middle = values.shape[0] // 2
    rows, columns = np.indices(values.shape) - middle
    far = np.hypot(rows, columns).ravel() * step
    order = np.argsort(far)
    light = np.cumsum(values.ravel()[order])
    within = light[np.searchsorted(far[order], 2.8 * star.seen_numbers.fwhm_um) - 1]
    half_flux = 2.0 * far[order][np.searchsorted(light, within / 2.0)]
    # The pixel, which collects, rounds a star a little more.
    assert half_flux / star.seen_numbers.fwhm_um == pytest.approx(HALF_FLUX_BY_WIDTH, abs=0.05)


def test_of_a_stretched_picture_the_mean_direction_is_all_that_is_told(tmp_path: Path):
    optics = replace(OPTICS, tilt=TILT)
    night = replace(NIGHT, drift_px=2.0, drift_deg=30.0)
    pixels = stretched(frame(optics, night, Field(seed=6, stars=320)))
    file = tmp_path / "shown.png"
    Image.fromarray(pixels).save(file)
    asked = SetAsked(frames=(FrameAsked(file=str(file), name="shown.png"),), light=LIGHT)
    one = measure_set(asked, datetime(2027, 3, 1, tzinfo=UTC))
    told = judged(one)
    assert {"frames.stretched", "frames.drift"} <= told.keys()
    assert not any(code.startswith(("frames.hint", "frames.tilt", "frames.curved")) for code in told)
    assert one.drift is not None
    assert math.degrees(cmath.phase(one.drift.whole)) / 2.0 == pytest.approx(30.0, abs=8.0)


def test_three_sets_that_lie_on_no_line_contradict_one_another(
    before: Measured, closer: Measured, after: Measured
):
    moved = after.model_copy(update={"spacing_mm": RIGHT_MM + 1.5})
    told = judged(moved, before, closer)["frames.spacing_mixed"]
    assert told.weight == "unknown"
    assert "55.70 mm, 54.70 mm and 56.60 mm contradict" in sentence(told)


def test_a_field_that_was_seen_is_drawn_and_holds_for_the_train_that_it_was_seen_with():
    seen = FieldSeen(
        on=date(2027, 3, 1), curvature_um=24.0, astigmatism_um=18.0, spacing_mm=55.0, focal_ratio=4.0
    )
    rig = plain()
    with_it = Case(replace(rig.rig, seen=seen))
    plain_one, drawn = telescope_of(rig), telescope_of(with_it)
    assert plain_one is not None
    assert drawn is not None
    assert plain_one.perfect
    assert not drawn.perfect
    # By hand: 24 um of longitudinal defocus at f/4 are 24 / (8 x 16) = 0.1875 um of wave.
    corner2 = 18.0**2 + 12.0**2
    assert drawn.terms.curve_um_per_mm2 * corner2 == pytest.approx(-0.1875)
    assert drawn.terms.astig_um_per_mm2 * corner2 == pytest.approx(18.0 / 128.0)
    assert "measured on 2027-03-01" in " ".join(plain_words(one) for one in drawn.assumed)
    other = telescope_of(Case(replace(rig.rig, seen=seen.model_copy(update={"spacing_mm": 54.0}))))
    assert other is not None
    assert other.terms == plain_one.terms
    assert "another spacing" in " ".join(plain_words(one) for one in other.assumed)


def test_a_step_that_was_said_too_large_is_told_and_gives_no_tilt(tmp_path: Path):
    frames = [
        FrameAsked(file=str(taken_file), name=taken_file.name, focuser=position)
        for taken_file, position in zip(files_of(tmp_path), (500.0, -500.0), strict=True)
    ]
    asked = SetAsked(frames=tuple(frames), light=LIGHT, step_um=1.5, spacing_mm=RIGHT_MM)
    one = measure_set(asked, datetime(2027, 3, 1, tzinfo=UTC))
    assert one.trouble == "wrong_step"
    assert one.surface is None
    assert "far smaller than these positions would make them" in sentence(judged(one)["frames.wrong_step"])


def files_of(folder: Path) -> list[Path]:
    """Two frames, taken 75 um to either side of focus."""
    taken(folder, RIGHT_MM, TILT, 8)
    return sorted(folder.glob("8-*.fits"))


def test_tilt_and_curvature_that_each_pass_are_told_for_what_they_make_together(before: Measured):
    assert before.surface is not None
    surface = before.surface.model_copy(
        update={
            "tilt_u": Value(value=30.0, error=1.0),
            "tilt_v": Value(value=0.0, error=1.0),
            "curvature": Value(value=30.0, error=1.0),
            "astigmatism": Value(value=20.0, error=1.0),
        }
    )
    one = before.model_copy(update={"surface": surface})
    # By hand: right corners at u = 0.832 rise by 25 + 30, the vertex at u = -0.5 falls by 7.5: half of
    # that range is 31, and with line foci of 20 to either side 37.
    told = judged(one, plan=FramePlan(light=LIGHT, zone_um=36.0))
    assert told["frames.whole"].figure is not None
    assert told["frames.whole"].figure.amount.value == pytest.approx(0.0371, abs=0.0002)
    assert {told[code].weight for code in ("frames.whole", "frames.tilt", "frames.curved")} == {"watch"}
    assert "right is still out by 37 µm" in sentence(told["frames.whole"])
    alone = judged(one, plan=FramePlan(light=LIGHT, zone_um=40.0))
    assert {alone[code].weight for code in ("frames.whole", "frames.tilt", "frames.curved")} == {"sound"}
