"""Several targets on several rigs, on one page that prints."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from markupsafe import Markup

from server.domain.observer import Observer
from server.domain.sky.target import ListedTarget
from server.flow.plan_sky import RigSky, SkyWishes, TargetSky
from server.flow.protocols import RigLine
from server.rim.sky_compare import reasons
from server.rim.sky_words import fit_words, long_hours, night_words, size_words, year_words
from server.web.rendering import URLS
from server.web.sky.target_page import RigColumn, column_of, noise_of, picture_of

MOST_TARGETS = 8
"""More do not print on a page that anybody reads."""
SKETCH_HOURS = 5.0


@dataclass(frozen=True)
class PlanBlock:
    """One target of the plan; the columns as of its own page.

    Attributes:
        url: of its own page. months: moonless hours a night, from January.
    """

    name: str
    size: str
    url: str
    framing: Markup | None
    year_said: str
    months: tuple[str, ...]
    night_said: str
    columns: tuple[RigColumn, ...]
    reasons: tuple[str, ...]

    @property
    def told(self) -> tuple[RigColumn, ...]:
        """The rigs for which something can be reckoned."""
        return tuple(column for column in self.columns if column.cells)

    @property
    def lacking(self) -> tuple[tuple[str, str], ...]:
        """What to enter, each once; what is asked for the target itself stands on its own page."""
        every = (one for column in self.columns for one in column.lacking)
        return tuple(
            dict.fromkeys((words, self.url + at if at.startswith("#") else at) for words, at in every)
        )


@dataclass(frozen=True)
class PlanPage:
    """The plan.

    Attributes:
        listed, keys: the observer's list, and what of it is planned.
        said: the answer for each rig, in a sentence.
        site_said: the site in a line.
    """

    template: ClassVar[str] = "sky/plan.html"

    sites: tuple[tuple[int, str], ...]
    site_id: int | None
    site_said: str
    rigs: tuple[RigLine, ...]
    rig_ids: tuple[int, ...]
    listed: tuple[ListedTarget, ...]
    keys: tuple[str, ...]
    said: tuple[str, ...]
    blocks: tuple[PlanBlock, ...]
    credit: str
    most: int = MOST_TARGETS


def block_of(
    key: str, view: TargetSky, wishes: SkyWishes, reader: Observer, query: Mapping[str, Any]
) -> PlanBlock:
    """One target, in as many panels as take it in."""
    picture, _, _ = picture_of(view, wishes, f"plan-{key}")

    def whole(one: RigSky) -> SkyWishes:
        columns, rows = one.framed.panels or (1, 1)
        return wishes.model_copy(update={"columns": columns, "rows": rows})

    noise, site = noise_of(view), None if view.site is None else view.site.site
    return PlanBlock(
        name=" · ".join(filter(None, (view.target.called, view.target.common_name))),
        size=size_words(view.target),
        url=URLS.target(key, **query),
        framing=picture,
        year_said="" if view.year is None or site is None else year_words(view.year, view.target, site),
        months=() if view.year is None else tuple(long_hours(one.moonless_h) for one in view.year.months),
        night_said="" if view.night is None else night_words(view.night, view.target),
        columns=tuple(
            column_of(one, view, whole(one), reader, noise, key, query, (SKETCH_HOURS,)) for one in view.rigs
        ),
        reasons=reasons(view, lambda one: whole(one).panels),
    )


def answers(views: tuple[TargetSky, ...]) -> tuple[str, ...]:
    """For each rig, what of the list it frames and how long all of it takes."""
    if not views:
        return ()
    return tuple(
        fit_words(one.rig.name, [(view.target, view.rigs[nth]) for view in views])
        for nth, one in enumerate(views[0].rigs)
    )
