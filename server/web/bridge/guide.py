"""Writes what the Bridge says of the guide camera's branch: its chain, or why there is none."""

from __future__ import annotations

from markupsafe import Markup

from server.domain.checks.guide_branch import work_guide
from server.flow.bridge_branch import GuideStack
from server.flow.bridge_wishes import Gap
from server.rim.wording import write_measure, write_money
from server.web.bridge.drawing import StackScale, stack_svg
from server.web.bridge.page import GuideCard, PartLine
from server.web.bridge.words import Words, written


def guide_facts(to: Words, gap: Gap) -> list[tuple[str, str]]:
    """The two paths as they are now, where the guide camera is to be in focus too."""
    paths = work_guide(gap.rig) if to.query.guide else None
    if paths is None or paths.main_mm is None or paths.guide_mm is None:
        return []
    off = to.off(paths.guide_mm - paths.main_mm)
    return [
        ("Prism to main sensor now", f"{to.length(paths.main_mm)}, glass allowed for"),
        ("Prism to guide sensor now", f"{to.length(paths.guide_mm)}, {off}"),
    ]


def guide_card(
    to: Words, guide: GuideStack, rank: int, shared: StackScale, prefix: str, borrowed: frozenset[int]
) -> GuideCard:
    """The guide chain of one stack; `borrowed` are the parts of which there are but the club's."""
    here = {place.key for place in to.view.rig.branch}
    lines = tuple(
        PartLine(
            number,
            place,
            write_measure(place.length, "length", to.units),
            False,
            place.key in here,
            place.key in guide.bought_keys,
            write_money(place.item.part.price) if place.key in guide.bought_keys else "",
            to.address(without=(*to.query.without, place.item.id), open=()),
            place.key not in guide.bought_keys and place.item.id in borrowed,
        )
        for number, place in enumerate(guide.places, start=1)
    )
    part, camera = guide.guider.part, guide.camera.part
    drawing = stack_svg(
        (part.side_port, camera.sky_side),
        guide.places,
        shared=shared,
        bought=guide.bought_keys,
        title=f"The guide chain of stack {rank}, to scale",
        sentences=[
            f"{line.number}: {line.place.name}, {line.length or 'length not known'}"
            f"{', to be bought' if line.bought else ''}."
            for line in lines
        ],
        id_prefix=f"{prefix}-{rank}-guide",
        options=to.options,
    )
    return GuideCard(
        Markup(drawing),  # The drawing's writer escapes every text that it is given.
        lines,
        f"from the side port of {guide.guider.name} to {guide.camera.name}",
        to.length(guide.main_mm),
        to.length(guide.guide_mm),
        to.off(guide.off_mm),
        written(guide.uses),
    )
