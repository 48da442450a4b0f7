"""The stars that a rig draws, in numbers."""

from __future__ import annotations

from typing import Annotated, Self

from fastapi import Query
from pydantic import BaseModel, Field

from server.api.bench import RigNumber
from server.api.deps import HeavyBench
from server.api.errors import LOOKING
from server.api.findings import FindingAnswer, write_findings
from server.api.naming import operations
from server.domain.stars.field import PlaceStar
from server.domain.stars.wishes import StarWishes
from server.flow.draw_stars import draw_stars
from server.rim.phrasebook.tell import asked_of, plain, tell

router = operations("stars", "/observers/{observer_id}/rigs/{rig_id}/stars")


class StarAnswer(BaseModel):
    """One of the nine stars. Lengths are um on the sensor; `alone` is by the tube, `seen` through air and
    guiding too, as a pixel collects it.
    """

    place: str
    x_mm: float
    y_mm: float
    fwhm_alone_um: float
    fwhm_seen_um: float
    d50_seen_um: float | None
    d80_alone_um: float | None = Field(description="Diameter that holds 80 % of the light; null: beyond it.")
    d80_seen_um: float | None
    strehl: float | None = Field(description="Null where rays were drawn in place of waves.")
    eccentricity: float
    direction_deg: float = Field(description="Of the long axis, from the sensor's right, anticlockwise.")
    light: float = Field(
        description="The part of the tube's light that the train lets through to this place."
    )

    @classmethod
    def of(cls, star: PlaceStar) -> Self:
        """The answer for a star."""
        alone, seen = star.alone_numbers, star.seen_numbers
        return cls(
            place=plain(star.place),
            x_mm=star.x_mm,
            y_mm=star.y_mm,
            fwhm_alone_um=alone.fwhm_um,
            fwhm_seen_um=seen.fwhm_um,
            d50_seen_um=seen.d50_um,
            d80_alone_um=alone.d80_um,
            d80_seen_um=seen.d80_um,
            strehl=alone.strehl,
            eccentricity=seen.shape.eccentricity,
            direction_deg=seen.shape.direction_deg,
            light=star.light,
        )


class StarsAnswer(BaseModel):
    """The stars of a rig; empty with `lacking` or `trouble` where none can be drawn."""

    lacking: tuple[str, ...] = Field(description="What to enter before a star can be drawn.")
    trouble: str = Field(description="Why figures that are there cannot be drawn; empty where they can.")
    assumed: tuple[str, ...] = ()
    stars: tuple[StarAnswer, ...] = ()
    growth_px: float | None = Field(None, description="Growth of the 80 % diameter from centre to corner.")
    light_lost: float | None = Field(None, description="To obstruction, vanes, clips and mask; share of 1.")
    equal_aperture_mm: float | None = Field(None, description="Of a refractor that gathers as much.")
    spike_share: float | None = None
    findings: tuple[FindingAnswer, ...] = ()


@router.get("", responses=LOOKING)
def show_stars(bench: HeavyBench, rig_id: RigNumber, wishes: Annotated[StarWishes, Query()]) -> StarsAnswer:
    """The stars of a rig over its sensor, and what they say; the query asks as the page does, in um, mm,
    arcsec.
    """
    view = draw_stars(bench.bench(rig_id).rig, wishes)
    field = view.field
    if field is None:
        return StarsAnswer(
            lacking=asked_of(view.lacking), trouble="" if view.trouble is None else plain(view.trouble)
        )
    return StarsAnswer(
        lacking=(),
        trouble="",
        assumed=tuple(map(plain, field.telescope.assumed)),
        stars=tuple(StarAnswer.of(star) for star in field.stars),
        growth_px=field.growth_px,
        light_lost=1.0 - field.lost.clear,
        equal_aperture_mm=field.lost.equal_aperture_mm,
        spike_share=field.spike_share,
        findings=write_findings(map(tell, view.findings), bench.observer.units),
    )
