"""Writes what the Bridge says of the guide camera's branch: its chain, or why there is none."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from markupsafe import Markup

from server.domain.checks.guide_branch import work_guide
from server.domain.parts import BaseCamera, OffAxisGuider
from server.flow.bridge_branch import GuideStack
from server.flow.bridge_offers import offer_of
from server.flow.bridge_pose import Posed, connection_words
from server.flow.bridge_wishes import Gap
from server.rim.wording import write_connection, write_measure, write_money
from server.search.pairs import NoPair
from server.web.bridge.drawing import StackScale, stack_svg
from server.web.bridge.page import GuideCard, Miss, PartLine
from server.web.bridge.query import write_uses

if TYPE_CHECKING:
    from server.web.bridge.writer import Writer


def guide_facts(writer: Writer, gap: Gap) -> list[tuple[str, str]]:
    """The two paths as they are now, where the guide camera is to be in focus too."""
    paths = work_guide(gap.rig) if writer.query.guide else None
    if paths is None or paths.main_mm is None or paths.guide_mm is None:
        return []
    off = writer.off(paths.guide_mm - paths.main_mm)
    return [
        ("Prism to main sensor now", f"{writer.length(paths.main_mm)}, glass allowed for"),
        ("Prism to guide sensor now", f"{writer.length(paths.guide_mm)}, {off}"),
    ]


def guide_card(writer: Writer, guide: GuideStack, rank: int, shared: StackScale, prefix: str) -> GuideCard:
    """The guide chain of one stack."""
    here = {place.key for place in writer.view.rig.branch}
    lines = tuple(
        PartLine(
            number,
            place,
            write_measure(place.length, "length", writer.units),
            False,
            place.key in here,
            place.key in guide.bought_keys,
            write_money(place.item.part.price) if place.key in guide.bought_keys else "",
            writer.address(without=(*writer.query.without, place.item.id), compare=()),
        )
        for number, place in enumerate(guide.places, start=1)
    )
    part, camera = guide.guider.part, guide.camera.part
    assert isinstance(part, OffAxisGuider)
    assert isinstance(camera, BaseCamera)
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
        options=writer.options,
    )
    return GuideCard(
        Markup(drawing),  # The drawing's writer escapes every text that it is given.
        lines,
        f"from the side port of {guide.guider.name} to {guide.camera.name}",
        writer.length(guide.main_mm),
        writer.length(guide.guide_mm),
        writer.off(guide.off_mm),
        write_uses(tuple((use.part_id, use.flipped, use.place) for use in guide.uses)),
    )


def miss_pair(writer: Writer, posed: Posed, nearest: NoPair, shared: StackScale) -> Miss:
    """Why there is no main stack with a guide stack, and what would mend it."""
    side = posed.side
    assert side is not None
    if nearest.main is not None:
        found = writer.miss(posed, nearest.main, shared)
        return replace(found, sentence=f"The main chain by itself: {found.sentence}")
    asked = writer.length((nearest.asked or 0) / 100.0)
    card = None
    if nearest.stack is not None:
        title = "The main chain by itself, to scale"
        card = writer.card(offer_of(posed, nearest.stack), 0, shared, title=title)
    begin = f"The main chain can be built, best as shown; the guide chain then needs {asked}"
    guide = nearest.guide
    if guide is None:
        return Miss(
            f"{begin}, and both together need more copies of a part than there are. Wish for another copy, "
            "or search the whole catalogue.",
            (),
            card,
        )
    words = {node + side.first: text for node, text in connection_words(posed).items()}
    if (nearest.asked or 0) < 0:
        return Miss(
            f"{begin}: the guide camera sits too far from the prism even without a ring. Longer parts behind "
            "the guider, or a guide camera of a shorter flange distance, would help.",
            (),
            card,
        )
    if guide.why == "unreachable":
        part, camera = side.guider.part, side.camera.part
        assert isinstance(part, OffAxisGuider)
        assert isinstance(camera, BaseCamera)
        ways = [
            ", ".join(sorted({words[n] for n in nodes if n in words})) or "nothing else"
            for nodes in (guide.forward, guide.backward)
        ]
        return Miss(
            f"{begin}, and no chain of these parts leads from {write_connection(part.side_port)} to "
            f"{write_connection(camera.sky_side)}, whatever its length. From the side port these can be "
            f"reached: {ways[0]}. The guide camera can be reached from: {ways[1]}. An adapter from one of "
            "the first to one of the second would join them.",
            (),
            card,
        )
    off = "" if guide.stack is None else f": the nearest is {writer.off(guide.stack.error / 100.0)}"
    closings = tuple(
        f"a ring of {writer.length(one.length / 100.0)} in the guide chain at "
        + " or ".join(words.get(node, "?") for node in one.nodes[:4])
        for one in guide.closings
    )
    return Miss(f"{begin}, and no chain of these parts has that length{off}.", closings, card)
