"""Writes the Bridge's page for one reader: the gap, the stacks, the verdict, the front."""

from __future__ import annotations

from dataclasses import replace

from markupsafe import Markup

from server.domain.checks.guide_branch import PARFOCAL_MM
from server.domain.parts import CataloguedPart
from server.flow.bridge_alike import Gathered
from server.flow.bridge_closing import ClosingRing, closing_rings
from server.flow.bridge_offers import Offer, offer_of
from server.flow.bridge_pose import Posed, connection_words
from server.flow.bridge_wishes import Gap
from server.rim.phrasebook.tell import plain, tell, write_words
from server.rim.wording import write_connection, write_measure, write_money
from server.search.pairs import NoPair, PairOutcome
from server.search.problem import Nearest, Outcome
from server.web.bridge.drawing import StackScale, scale_for, stack_svg
from server.web.bridge.guide import guide_card, guide_facts
from server.web.bridge.jobs import Search
from server.web.bridge.lines import alike_of, lines_of, plot
from server.web.bridge.page import Alike, BridgePage, Card, LeftOutLine, Miss, PartLine, Ring
from server.web.bridge.words import Words, written

WHOSE_WORDS = {
    "corrector": "asked for by the corrector, its own tolerance allowed",
    "rules": "asked for by the corrector, the rig's rule allowed",
    "focuser": "where the focuser brings the sensor to focus",
    "typed": "as typed",
    "nobody": "nothing here asks for a distance; the shortest is best",
}
SHOWN_LEFT_OUT = 6


class Writer(Words):
    """Builds the page for one reader and one state of the address."""

    def page(self, errors: dict[str, str], search: Search | None) -> BridgePage:
        """The page, with what a search has found so far."""
        view, gap, posed = self.view, self.view.gap, self.view.posed
        known: dict[str, object] = {}
        if gap is not None:
            known |= {
                "sky": gap.sky.key,
                "camera": gap.camera.key,
                "gap": gap,
                "movable": tuple(sorted((*gap.kept, *gap.left), key=lambda p: gap.between.index(p))),
                "title": f"{gap.sky.name} to {gap.camera.name}",
                "asked": self.asked(gap),
                "facts": self.facts(gap),
                "hints": self.hints(gap),
            }
        if posed is not None:
            known |= {
                "searched": len(posed.pieces.pieces),
                "left_out": tuple(
                    LeftOutLine(
                        plain(one.reason), one.items[:SHOWN_LEFT_OUT], max(0, len(one.items) - SHOWN_LEFT_OUT)
                    )
                    for one in posed.left_out
                ),
                "glueable": self.glueable(posed),
            }
            if search is not None:
                known |= self.answer(posed, search)
        return BridgePage(
            rig_id=view.stored.id,
            name=view.stored.name,
            version=view.stored.version,
            query=self.query,
            errors=errors,
            trouble=write_words(view.trouble, self.units),
            places=view.rig.train.places,
            guidable=view.rig.guider is not None and view.rig.guide_camera is not None,
            glued=tuple((f"{a}-{b}", f"{self.name(a)} and {self.name(b)}") for a, b in self.query.pairs),
            unwanted=tuple((number, self.name(number)) for number in self.query.without),
            wish=self.urls.bridge_wish(view.stored.id, **self.query.state()),
            patient=self.address(wait=True),
            poll=self.address(),
            stop=self.urls.bridge_stop(view.stored.id, **self.query.state()),
            again=self.address(again=True),
            **known,  # type: ignore[arg-type]
        )

    def glueable(self, posed: Posed) -> tuple[CataloguedPart, ...]:
        """What must stay, and what is owned and free: only those can be one piece already."""
        owned = [posed.pieces.items[p.number] for p in posed.pieces.pieces if p.owned and not p.shim]
        return tuple({item.id: item for item in (*(p.item for p in posed.gap.kept), *owned)}.values())[:200]

    def asked(self, gap: Gap) -> str:
        """What is asked for, in as few words as can be."""
        if gap.whose == "nobody":
            words = f"the shortest stack, at most {self.length(gap.long_mm)}"
        else:
            window = f"{self.length(gap.short_mm)} short to {self.length(gap.long_mm)} long"
            words = f"{self.length(gap.distance_mm)}, {window}"
        if gap.clear_mm:
            words += f", {self.length(gap.clear_mm, 1)} clear"
        if gap.now_mm is not None and gap.between and gap.whose != "nobody":
            words += f". There now: {self.off(gap.now_mm - gap.distance_mm)}"
        return f"Asked: {words}."

    def facts(self, gap: Gap) -> tuple[tuple[str, str], ...]:
        """The gap in figures."""
        found = [
            ("From", f"{gap.sky.name}, {write_connection(gap.sky.camera_connection)}"),
            ("To", f"{gap.camera.name}, {write_connection(gap.camera.sky_connection)}"),
            ("Distance", f"{self.length(gap.distance_mm)}: {WHOSE_WORDS[gap.whose]}"),
            ("Allowed", f"{self.length(gap.short_mm)} short, {self.length(gap.long_mm)} long"),
        ]
        if gap.asked_mm is not None and gap.outside_mm is not None and gap.whose != "typed":
            asked, outside = self.length(gap.asked_mm), self.length(gap.outside_mm)
            sums = f"{asked} asked for, glass allowed for, less {outside} outside the gap"
            found.insert(3, ("Worked out", sums))
        if gap.now_mm is not None and gap.between:
            off = gap.now_mm - gap.distance_mm
            found.append(("There now", f"{self.length(gap.now_mm)}, {self.off(off)}"))
        found += guide_facts(self, gap)
        if gap.notes:
            found.append(("To enter", "; ".join(write_words(note, self.units) for note in gap.notes)))
        return tuple(found)

    def hints(self, gap: Gap) -> tuple[tuple[str, str], ...]:
        """What the empty fields of the form stand for."""
        cone = ""
        if gap.cone_mm is not None:
            near, far = (self.length(mm, 1) for mm in gap.cone_mm)
            cone = f"The light cone needs {far} at the sky end and {near} at the camera end."
        return (
            ("distance", self.length(gap.distance_mm)),
            ("short", self.length(gap.short_mm)),
            ("long", self.length(gap.long_mm)),
            ("clear", self.length(gap.clear_mm, 1) if gap.clear_mm else "none"),
            ("cone", cone),
            ("guide_off", self.length(PARFOCAL_MM)),
            ("mass_like", self.mass(0.3)),
        )

    # The answer

    def answer(self, posed: Posed, search: Search) -> dict[str, object]:
        """What a search has found so far."""
        outcome, front = search.outcome, search.front
        groups = search.gathered()
        nearest = outcome.nearest
        stacks = [group.offer.places for group in groups]
        stacks += [group.offer.guide.places for group in groups if group.offer.guide is not None]
        if nearest is not None and nearest.stack is not None:
            stacks.append(offer_of(posed, nearest.stack).places)
        shared = scale_for(stacks)

        def draw(group: Gathered, number: int) -> Card:
            return self.card(group.offer, number, shared, alike=alike_of(self, group))

        lines = lines_of(self, groups, draw)
        running = not search.ended
        known: dict[str, object] = {
            "running": running,
            "stopped": search.stopped and search.ended,
            "seconds": int(search.seconds),
            "before": search.before,
            "best": draw(groups[0], 1) if groups else None,
            "lines": lines,
            "found": sum(line.count for line in lines),
            "proven": outcome.proven and bool(groups),
            "verdict": self.verdict(posed, outcome, search),
        }
        if isinstance(nearest, NoPair):
            known["miss"] = self.miss_pair(posed, nearest, shared)
        elif nearest is not None:
            known["miss"] = self.miss(posed, nearest, shared)
        if front is not None:
            known |= plot(self, posed, front, groups, lines, running)
        return known

    def verdict(self, posed: Posed, outcome: Outcome | PairOutcome, search: Search) -> str:
        """What may be said of the answer, and no more than that."""
        count = len(outcome.best)
        kinds = len(posed.pieces.pieces)
        parts = f"these {kinds} parts" if kinds != 1 else "this one part"
        if count and outcome.proven:
            if outcome.exhausted:
                these = "this is the only stack" if count == 1 else f"these {count} are all the stacks"
                return f"Proven: {these} that {parts} allow."
            return f"Proven: nothing better exists with {parts}."
        if not search.ended and not outcome.proven:
            found = f"{count} found so far" if count else "Nothing found yet"
            return f"Searching {parts}: {found}, and a better one may come."
        if count:
            return "Stopped before it was proven: a better stack may exist."
        if outcome.nearest is not None:
            return f"No stack exists with {parts}."
        return "Stopped before anything was found: a stack may exist all the same."

    def card(
        self,
        offer: Offer,
        rank: int,
        shared: StackScale,
        prefix: str = "stack",
        title: str = "",
        alike: tuple[Alike, ...] = (),
    ) -> Card:
        """One stack; `prefix` begins the ids of its drawing, `title` is said of it."""
        gap = offer.posed.gap
        kept = {place.key for place in gap.kept}
        here = {place.key for place in gap.between}
        lines = []
        for number, place in enumerate(offer.places, start=1):
            bought = place.key in offer.bought_keys
            stays = place.key in kept
            without = "" if stays else self.address(without=(*self.query.without, place.item.id), open=())
            lines.append(
                PartLine(
                    number,
                    place,
                    write_measure(place.length, "length", self.units),
                    stays,
                    place.key in here and not stays,
                    bought,
                    write_money(place.item.part.price) if bought else "",
                    without,
                    not bought and place.item.id in offer.posed.pieces.borrowed,
                )
            )
        narrowest = ""
        if offer.narrowest is not None:
            item, clear = offer.narrowest
            narrowest = f"{self.length(clear, 1)} ({item.name})"
        drawing = stack_svg(
            (gap.sky.camera_connection, gap.camera.sky_connection),
            offer.places,
            shared=shared,
            bought=offer.bought_keys,
            title=title or (f"Stack {rank}, to scale" if rank else "The nearest miss, to scale"),
            sentences=[
                f"{line.number}: {line.place.name}, {line.length or 'length not known'}"
                f"{', to be bought' if line.bought else ''}."
                for line in lines
            ],
            id_prefix=f"{prefix}-{rank}",
            options=self.options,
        )
        return Card(
            rank,
            offer,
            Markup(drawing),  # The drawing's writer escapes every text that it is given.
            tuple(lines),
            self.price(offer),
            offer.joints,
            self.length(offer.length_mm),
            self.off(offer.error_mm),
            self.weight(offer),
            narrowest,
            written(offer.change.uses),
            tuple(map(tell, offer.judged)),
            None
            if offer.guide is None
            else guide_card(self, offer.guide, rank, shared, prefix, offer.posed.pieces.borrowed),
            alike,
        )

    def miss(self, posed: Posed, nearest: Nearest, shared: StackScale) -> Miss:
        """Why there is no stack, and what would close the gap."""
        words = connection_words(posed)
        gap = posed.gap
        if nearest.why == "quantity":
            return Miss(
                "Every chain needs more copies of a part than there are, two shims in one joint, or a thread "
                "longer than its hole is deep. Wish for another copy, or search the whole catalogue.",
                (),
                None,
            )
        if nearest.why == "unreachable" and nearest.parts_needed is not None:
            return Miss(
                f"The ends can be joined, with {nearest.parts_needed + 1} joints at least. Allow that many.",
                (),
                None,
            )
        if nearest.why == "unreachable":
            start = write_connection(gap.sky.camera_connection)
            end = write_connection(gap.camera.sky_connection)
            ways = [
                ", ".join(sorted({words[n] for n in nodes if n in words})) or "nothing else"
                for nodes in (nearest.forward, nearest.backward)
            ]
            return Miss(
                f"No chain of these parts leads from {start} to {end}, whatever its length. From the sky end "
                f"these can be reached: {ways[0]}. The camera end can be reached from: {ways[1]}. An adapter "
                "from one of the first to one of the second would join them.",
                (),
                None,
            )
        card = None if nearest.stack is None else self.card(offer_of(posed, nearest.stack), 0, shared)
        if nearest.why == "mass":
            lightest = "" if card is None else f": the lightest weighs {card.mass}"
            return Miss(f"Every stack of the right length is heavier than allowed{lightest}.", (), card)
        sentence = "No chain of these parts has the right length."
        if card is not None:
            found = "The nearest miss" if nearest.proven else "The nearest miss found"
            error = card.offer.error_mm
            other = "shorter and still long enough" if error > 0 else "longer and still short enough"
            sentence = f"{found} is {card.error}. These parts make no stack that is {other}."
        return Miss(sentence, self.rings(closing_rings(posed, nearest.closings)), card)

    def rings(self, closings: tuple[ClosingRing, ...]) -> tuple[Ring, ...]:
        """The single rings that would close the gap."""
        found = []
        for one in closings:
            best, least, most = map(self.length, (one.length_mm, one.least_mm, one.most_mm))
            range_ = f"{least} to {most} would do" if least != most else "no other length would do"
            where = " in the guide chain" if one.guide else ""
            found.append(Ring(f"A ring of {best}{where}; {range_}.", best, one.seats))
        return tuple(found)

    def miss_pair(self, posed: Posed, nearest: NoPair, shared: StackScale) -> Miss:
        """Why there is no main stack with a guide stack, and what would mend it."""
        side = posed.side
        assert side is not None
        if nearest.main is not None:
            found = self.miss(posed, nearest.main, shared)
            return replace(found, sentence=f"The main chain by itself: {found.sentence}")
        asked = self.length((nearest.asked or 0) / 100.0)
        card = None
        if nearest.stack is not None:
            title = "The main chain by itself, to scale"
            card = self.card(offer_of(posed, nearest.stack), 0, shared, title=title)
        begin = f"The main chain can be built, best as shown; the guide chain then needs {asked}"
        guide = nearest.guide
        if guide is None:
            return Miss(
                f"{begin}, and both together need more copies of a part than there are. Wish for another "
                "copy, or search the whole catalogue.",
                (),
                card,
            )
        words = {node + side.first: text for node, text in connection_words(posed).items()}
        if (nearest.asked or 0) < 0:
            return Miss(
                f"{begin}: the guide camera sits too far from the prism even without a ring. Longer parts "
                "behind the guider, or a guide camera of a shorter flange distance, would help.",
                (),
                card,
            )
        if guide.why == "unreachable":
            part, camera = side.guider.part, side.camera.part
            ways = [
                ", ".join(sorted({words[n] for n in nodes if n in words})) or "nothing else"
                for nodes in (guide.forward, guide.backward)
            ]
            return Miss(
                f"{begin}, and no chain of these parts leads from {write_connection(part.side_port)} to "
                f"{write_connection(camera.sky_side)}, whatever its length. From the side port these can be "
                f"reached: {ways[0]}. The guide camera can be reached from: {ways[1]}. An adapter from one "
                "of the first to one of the second would join them.",
                (),
                card,
            )
        off = "" if guide.stack is None else f": the nearest is {self.off(guide.stack.error / 100.0)}"
        closings = self.rings(closing_rings(posed, guide.closings, guide=True))
        return Miss(f"{begin}, and no chain of these parts has that length{off}.", closings, card)
