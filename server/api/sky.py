"""The sky: sites, the list of targets, the catalogue, and one target on rigs."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated, Self

from fastapi import Path, Query
from pydantic import AfterValidator, BaseModel, Field, WithJsonSchema

from server.api.deps import HeavyBench, ReadingBench, WritingBench
from server.api.errors import CHANGING, CHANGING_A_VERSION, LOOKING
from server.api.naming import operations
from server.api.reading import Body, OwnTargetDocument, SiteDocument
from server.api.sky_answers import FoundAnswer, TargetAnswer, TargetSkyAnswer
from server.domain.errors import NotFoundError, RefusedError
from server.domain.guarded import Failed, worked
from server.domain.said import said
from server.domain.sky.finding import GROUPS, KINDS, TargetQuery, find_targets
from server.domain.sky.frame import Frame, frame_of
from server.domain.sky.reckoning import DepthWishes
from server.domain.sky.site import StoredSite
from server.domain.sky.target import ListedTarget, OwnTarget, Target, credit
from server.domain.sky.when import FIRST_YEAR, LAST_YEAR, tonight
from server.domain.workings.case import Case
from server.flow.plan_sky import MOST_RIGS, FramingWishes, SkyWishes, plan_target
from server.flow.workbench import Workbench
from server.handed import LARGEST_NUMBER, Number
from server.rim.constellations import CONSTELLATIONS

router = operations("sky", "/observers/{observer_id}/sky")

SiteNumber = Annotated[Number, Path(description="The number of a site of this observer's.")]
TargetNumber = Annotated[Number, Path(description="The number of a target on this observer's list.")]
Revision = Annotated[
    int, Field(ge=1, le=LARGEST_NUMBER, description="The revision that this replaces.", examples=[1])
]
AskedNumber = Annotated[int, Field(ge=1, le=LARGEST_NUMBER)]


# Sites


class SiteAnswer(BaseModel):
    """A site, and how bright its darkest sky is."""

    id: int
    revision: int = Field(description="1 when entered, one more with each change.")
    site: SiteDocument
    sky_mag: float | None = Field(
        description="At the zenith, V magnitudes per square arcsecond; null while not known."
    )
    sky_uncertainty_mag: float | None

    @classmethod
    def of(cls, stored: StoredSite) -> Self:
        """The answer for a site."""
        sky = stored.site.sky
        return cls(
            id=stored.id,
            revision=stored.revision,
            site=stored.site,
            sky_mag=None if sky is None else float(sky.magnitude),
            sky_uncertainty_mag=None if sky is None else float(sky.uncertainty),
        )


class NewSite(Body):
    """A site to be kept."""

    site: SiteDocument = Field(
        examples=[
            {
                "name": "The garden",
                "latitude_deg": 50.1,
                "longitude_deg": 8.6,
                "zone": "Europe/Berlin",
                "brightness_by": "sky_class",
                "brightness": 5,
            }
        ]
    )


class ChangedSite(NewSite):
    """A site's new document."""

    revision: Revision


class RigSite(Body):
    """Where a rig is usually used."""

    site_id: AskedNumber | None = Field(description="Null for nowhere in particular.")


@router.get("/sites", responses=LOOKING)
def list_sites(bench: ReadingBench) -> tuple[SiteAnswer, ...]:
    """The observer's sites, by name."""
    return tuple(map(SiteAnswer.of, bench.sites()))


@router.post("/sites", status_code=201, responses=CHANGING)
def add_site(bench: WritingBench, body: NewSite) -> SiteAnswer:
    """Keep a new site."""
    return SiteAnswer.of(bench.add_site(body.site))


@router.get("/sites/{site_id}", responses=LOOKING)
def show_site(bench: ReadingBench, site_id: SiteNumber) -> SiteAnswer:
    """One site."""
    return SiteAnswer.of(bench.site(site_id))


@router.put("/sites/{site_id}", responses=CHANGING_A_VERSION)
def change_site(bench: WritingBench, site_id: SiteNumber, body: ChangedSite) -> SiteAnswer:
    """Put a new document in place of a site."""
    return SiteAnswer.of(bench.change_site(site_id, body.revision, body.site))


@router.delete("/sites/{site_id}", status_code=204, responses=CHANGING)
def remove_site(bench: WritingBench, site_id: SiteNumber) -> None:
    """Remove a site; rigs that are used there have no usual site then."""
    bench.remove_site(site_id)


@router.get("/rigs/{rig_id}/site", responses=LOOKING)
def show_rig_site(bench: ReadingBench, rig_id: Number) -> RigSite:
    """Where a rig is usually used."""
    return RigSite(site_id=_usual_site(bench, rig_id))


@router.put("/rigs/{rig_id}/site", responses=CHANGING)
def set_rig_site(bench: WritingBench, rig_id: Number, body: RigSite) -> RigSite:
    """Say where a rig is usually used."""
    bench.set_rig_site(rig_id, body.site_id)
    return body


def _usual_site(bench: Workbench, rig_id: int) -> int | None:
    ((stored, _),) = bench.rigs_in_hand((rig_id,))
    return stored.site_id


# The list


class ListedAnswer(BaseModel):
    """A line of the observer's list."""

    id: int
    revision: int = Field(description="1 when entered, one more with each change of an own target.")
    key: str = Field(description="By which `sky/at` names it.", examples=["NGC 224", "own-3"])
    target: TargetAnswer | None = Field(description="Null where the catalogue has none of the name any more.")

    @classmethod
    def of(cls, listed: ListedTarget) -> Self:
        """The answer for a line."""
        try:
            target = TargetAnswer.of(listed.seen)
        except NotFoundError:
            target = None
        return cls(id=listed.id, revision=listed.revision, key=listed.key, target=target)


class NamedTarget(Body):
    """An object of the catalogue."""

    name: str = Field(max_length=80, description="Any of its names.", examples=["M 31"])


class NewTarget(Body):
    """A target of the observer's own."""

    target: OwnTargetDocument = Field(
        examples=[{"name": "Dust east of the cluster", "kind": "DrkN", "ra_deg": 58.2, "dec_deg": 24.6}]
    )

    def own(self) -> Target:
        """The target that it says."""
        return Target(own=True, **{name: getattr(self.target, name) for name in OwnTarget.model_fields})


class ChangedTarget(NewTarget):
    """An own target's new document."""

    revision: Revision


@router.get("/targets", responses=LOOKING)
def list_targets(bench: HeavyBench) -> tuple[ListedAnswer, ...]:
    """The observer's list, by name."""
    return tuple(map(ListedAnswer.of, bench.targets()))


@router.post("/targets", status_code=201, responses=CHANGING)
def add_target(bench: WritingBench, body: NewTarget) -> ListedAnswer:
    """Put a target of the observer's own on the list."""
    return ListedAnswer.of(bench.add_target(body.own()))


@router.post("/list", status_code=201, responses=CHANGING)
def list_target(bench: WritingBench, body: NamedTarget) -> ListedAnswer:
    """Put an object of the catalogue on the list; one that stands there already is answered as it is."""
    return ListedAnswer.of(bench.list_target(body.name))


@router.put("/targets/{target_id}", responses=CHANGING_A_VERSION)
def change_target(bench: WritingBench, target_id: TargetNumber, body: ChangedTarget) -> ListedAnswer:
    """Put a new document in place of an own target."""
    return ListedAnswer.of(bench.change_target(target_id, body.revision, body.own()))


@router.delete("/targets/{target_id}", status_code=204, responses=CHANGING)
def remove_target(bench: WritingBench, target_id: TargetNumber) -> None:
    """Take a target off the list."""
    bench.remove_target(target_id)


# The catalogue


def _one_of(*choices: str) -> AfterValidator:
    def known(text: str) -> str:
        if text and text not in choices:
            raise ValueError(f"there is no “{text[:20]}” here; take one of {', '.join(choices)}")
        return text

    return AfterValidator(known)


def _enum(*choices: str) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "enum": ["", *choices]})


KindName = Annotated[str, _one_of(*GROUPS, *KINDS), _enum(*GROUPS, *KINDS)]
ConstellationName = Annotated[str, _one_of(*CONSTELLATIONS), _enum(*CONSTELLATIONS)]


class TargetSearch(TargetQuery):
    """What to look for, as the page of the sky asks. Sizes in arcminutes, brightness in magnitudes."""

    kind: KindName = Field(default="", description="A kind's code, or a group of kinds.")
    constellation: ConstellationName = ""
    month: int = Field(default=0, ge=0, le=12, description="To be well placed in, at the site; 0 for any.")
    year: int = Field(
        default_factory=lambda: datetime.now(UTC).year,
        ge=FIRST_YEAR,
        le=LAST_YEAR,
        description="Of the month; without it, the present one.",
    )
    site: AskedNumber | None = Field(default=None, description="To say when each is up.")
    rig: AskedNumber | None = Field(default=None, description="To say how each sits on its frame.")


class FoundPage(BaseModel):
    """One page of what a search finds."""

    targets: tuple[FoundAnswer, ...]
    offset: int
    total: int
    credit: str = Field(description="Whose catalogue it is, and its licence.")


def _frame(bench: Workbench, rig_id: int | None) -> Frame | None:
    if rig_id is None:
        return None
    ((_, rig),) = bench.rigs_in_hand((rig_id,))
    frame = frame_of(Case(rig))
    return frame if isinstance(frame, Frame) else None


@router.get("/catalogue", responses=LOOKING)
def find_sky_targets(bench: HeavyBench, search: Annotated[TargetSearch, Query()]) -> FoundPage:
    """One page of the catalogue of targets."""
    site = None if search.site is None else bench.site(search.site).site
    frame = _frame(bench, search.rig)
    found = worked(said("work.targets"), lambda: find_targets(search, site, frame))
    if isinstance(found, Failed):
        raise RefusedError(found.why)
    return FoundPage(
        targets=tuple(map(FoundAnswer.of, found.lines)),
        offset=search.offset,
        total=found.total,
        credit=credit(),
    )


# One target


class TargetWishes(FramingWishes, DepthWishes):
    """What is asked of the sky for a target, as its page asks: angles in degrees, shares of 1."""

    site: AskedNumber | None = Field(
        default=None, description="Without it, where the first of the rigs is usually used."
    )
    rig: tuple[AskedNumber, ...] = Field(
        default=(), max_length=MOST_RIGS, description="The rigs, side by side; repeat it for each."
    )

    def wishes(self) -> SkyWishes:
        """The question to the sky."""
        values = self.model_dump()
        depth = DepthWishes(**{name: values[name] for name in DepthWishes.model_fields})
        return SkyWishes(depth=depth, **{name: values[name] for name in FramingWishes.model_fields})


@router.get("/at/{key}", responses=LOOKING)
def plan_sky(
    bench: HeavyBench,
    key: Annotated[str, Path(max_length=80, description="Any name of the catalogue's, or an own one's key.")],
    asked: Annotated[TargetWishes, Query()],
) -> TargetSkyAnswer:
    """What a target gives on up to four rigs, from a site: framed, in its year and night, and how deep."""
    target, listed = bench.target(key)
    rig_ids = tuple(dict.fromkeys(asked.rig))
    rigs = bench.rigs_in_hand(rig_ids)
    site_id = asked.site if asked.site is not None or not rigs else rigs[0][0].site_id
    site = None if site_id is None else bench.site(site_id)
    wishes = asked.wishes()
    evening = wishes.evening or tonight("UTC" if site is None else site.site.zone)
    view = plan_target(target, site, rigs, wishes, evening)
    of = "" if target.own else credit()
    return TargetSkyAnswer.of(view, wishes, of, None if listed is None else listed.id)
