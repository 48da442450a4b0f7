"""What a finding lacks leads to the field that it is about: each figure of each usual rig is taken away in
turn.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from server.domain.findings import Wanted
from server.domain.missing import lacks
from server.domain.parts import specs_of
from server.domain.rig import Rig
from server.domain.train import Train
from server.rim.phrasebook.tell import asked_of
from tests.domain import usual_rigs
from tests.domain.rigs import item, tube
from tests.domain.test_usual_rigs import SAID
from tests.told import run_checks

ELSEWHERE = {("corrector", "corrector_type")}
"""Without its kind an extender is asked for the circle that any other corrector has."""
NO_FIGURES = {"maker", "model", "note", "document", "basis", "price"}


def items_of(rig: Rig):
    return [
        *(p.item for p in rig.train),
        *(i for p in rig.train for i in p.inside),
        *(g.item for g in rig.gear),
    ]


def without(rig: Rig, part_id: int, field: str) -> Rig:
    """The rig with one figure of one part not known."""

    def bare(one):
        if one.id != part_id:
            return one
        empty = () if isinstance(getattr(one.part, field), tuple) else None
        return replace(one, part=one.part.model_copy(update={field: empty}))

    places = tuple(replace(p, item=bare(p.item), inside=tuple(map(bare, p.inside))) for p in rig.train)
    return replace(rig, train=Train(places), gear=tuple(replace(g, item=bare(g.item)) for g in rig.gear))


def asked(rig: Rig) -> set[Wanted]:
    return {
        words for one in run_checks(rig) for words in one.missing if isinstance(words, Wanted) and words.field
    }


@pytest.mark.parametrize("make", SAID, ids=lambda make: make.__name__)
def test_a_figure_taken_away_is_asked_for_at_its_own_field(make):
    rig = make()
    before, led = asked(rig), 0
    for one in items_of(rig):
        for spec in specs_of(one.part.kind):
            if spec.name in NO_FIGURES or not getattr(one.part, spec.name):
                continue
            new = asked(without(rig, one.id, spec.name)) - before
            for words in new:
                holder = next(i for i in items_of(rig) if i.id == words.part_id)
                assert words.field in {s.name for s in specs_of(holder.part.kind)}, words
                assert holder.name in words
            if new and (one.part.kind, spec.name) not in ELSEWHERE:
                assert any((words.part_id, words.field) == (one.id, spec.name) for words in new), (
                    spec.name,
                    new,
                )
                led += 1
    assert led >= 10


def test_a_reference_is_text_to_all_who_only_show_it():
    held = item(tube(model="80"))
    words = asked_of([lacks(held, "focal_length_mm", "focal_length_afresh")])[0]
    assert words == "the focal length of Halden 80 afresh (0 is none)"
    assert (words.part_id, words.field) == (held.id, "focal_length_mm")
    found = next(f for f in run_checks(usual_rigs.narrow_reducer()))
    asking = found.model_copy(update={"missing": (words,)})
    # A file keeps the words alone.
    assert type(found).model_validate_json(asking.model_dump_json()).missing == (str(words),)
