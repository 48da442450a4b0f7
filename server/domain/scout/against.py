"""Two tubes against each other: what an obstruction takes, and what an aperture gives."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from server.domain.parts import CataloguedPart, OpticalTube
from server.domain.said import Said, said
from server.domain.scout.measures import RULES, Pass
from server.domain.sky.depth import clear_mm2
from server.domain.verdicts import Given, Verdict
from server.domain.workings.case import amount, input_of
from server.optics.diffraction import annular_disc_share, annular_mtf, lambda_over_d_arcsec


@dataclass(frozen=True)
class Sight:
    """What of a combination its stars hang on.

    Attributes:
        aperture_mm, clear_mm2: of the opening, what stands before it counted.
        share: the obstruction, linear; usual: it is the design's usual one, since nobody has said it.
        star_arcsec: a star's full width all in, nan where it is not known.
    """

    tube: CataloguedPart[OpticalTube]
    aperture_mm: float
    clear_mm2: float
    share: float
    usual: bool
    star_arcsec: float

    @property
    def lost(self) -> float:
        """What obstruction, vanes and clips take of the light."""
        return 1.0 - self.clear_mm2 / (math.pi / 4.0 * self.aperture_mm**2)

    def contrast(self, detail_arcsec: float, share: float) -> float:
        """What the opening passes of the contrast of a detail, with so large an obstruction."""
        finest = lambda_over_d_arcsec(self.aperture_mm, RULES.wavelength_nm)
        return annular_mtf(finest / detail_arcsec, share)


def sight_of(table: Pass, number: int) -> Sight | None:
    """What is known of a combination; None where its stars are not."""
    three = table.threes[int(table.of[number])]
    if three.telescope is None:
        return None
    return Sight(
        tube=table.choice.tubes[three.tube],
        aperture_mm=three.telescope.aperture_mm,
        clear_mm2=clear_mm2(three.telescope, three.figures.obstruction.value),
        share=three.figures.obstruction.value,
        usual="obstruction_mm" in three.figures.assumed,
        star_arcsec=float(table.measures["value"]["star"][number]),
    )


def judge_against(one: Sight, other: Sight, site_arcsec: float | None) -> Verdict | None:
    """Say of two what each obstruction takes and which gathers more, in the site's seeing or, where
    nobody has said it, the rules'; None where they do not differ in design or obstruction.
    """
    if one.tube.part.design == other.tube.part.design and one.share == other.share:
        return None
    seeing = RULES.seeing_arcsec if site_arcsec is None else site_arcsec
    air = Given("seeing", amount(seeing, "arcsec", 1), "delivered" if site_arcsec is None else "typed")
    less, more = sorted((one, other), key=lambda sight: sight.clear_mm2)
    return Verdict(
        code="against",
        weight="sound",
        says=tuple(_says(less, more, seeing)),
        inputs=(*_inputs(less), *_inputs(more), air),
    )


def _says(less: Sight, more: Sight, seeing: float) -> Iterator[Said]:
    for sight in (less, more):
        if sight.share > 0.0:
            disc, whole = annular_disc_share(sight.share), annular_disc_share()
            yield said(
                "against.shut",
                tube=sight.tube,
                usual=sight.usual,
                share=amount(sight.share, "fraction"),
                lost=amount(sight.lost, "fraction"),
                disc=amount(disc, "fraction"),
                whole=amount(whole, "fraction"),
            )
    times = amount(more.clear_mm2 / less.clear_mm2, "times", 1)
    yield said("against.light", more=more.tube, less=less.tube, times=times)
    yield said(
        "against.detail",
        seeing=amount(seeing, "arcsec", 1),
        more=more.tube,
        less=less.tube,
        passed=amount(more.contrast(seeing, more.share), "fraction"),
        other=amount(less.contrast(seeing, less.share), "fraction"),
        shut=more.share > 0.0,
        unshut=amount(more.contrast(seeing, 0.0), "fraction"),
    )
    if more.star_arcsec == more.star_arcsec and less.star_arcsec == less.star_arcsec:
        star, stars = (amount(sight.star_arcsec, "arcsec", 1) for sight in (more, less))
        yield said("against.star", star=star, other=stars, more=more.tube, less=less.tube)


def _inputs(sight: Sight) -> Iterator[Given]:
    tube, name = sight.tube, sight.tube.name
    yield input_of("aperture", tube, tube.part.aperture_mm, "length")
    if sight.share > 0.0:
        basis = "assumed" if sight.usual else "worked out"
        yield Given("obstruction, linear", amount(sight.share, "fraction"), basis, name)
    yield Given("clear share of the aperture", amount(1.0 - sight.lost, "fraction"), "worked out", name)
