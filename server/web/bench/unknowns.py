"""What would settle more: what the findings lack, each once, with its field and what waits on it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from server.domain.fields import FieldSpec
from server.domain.findings import ShortFinding, Wanted
from server.domain.load.work import LOAD_CHECKS
from server.domain.parts import CataloguedPart
from server.domain.rig import LeftOpen
from server.flow.views import BenchView
from server.frozen import frozen
from server.rim.answer import in_order
from server.rim.cells import write_cell
from server.rim.forms import field_of
from server.rim.phrasebook.find_out import HOW
from server.rim.phrasebook.forms import listed
from server.web.entering import form_for
from server.web.rendering import URLS

IN_PLACE = ("measure", "count", "connection", "choice", "flag")
"""What a single line can ask for; all else has a form of its own."""
SEVERAL = (
    "lacks.aperture_and_focal",
    "lacks.factor_and_spacing",
    "lacks.pixels",
    "lacks.pixels_and_size",
    "lacks.sensor",
)
"""What names several fields: in place, the first of them is asked for by its own name."""
FROM_TRAY = {
    "wants.mount": "mount",
    "wants.camera_at_end": "camera",
    "wants.camera_in_train": "camera",
    "wants.tube_in_train": "optical_tube",
    "wants.tube_and_camera": "optical_tube",
    "wants.source": "power_source",
    "wants.counterweights": "counterweight",
    "wants.rating_without": "counterweight",
}
"""What is wanted and is a part: its kind in the tray."""


@dataclass(frozen=True)
class Settling:
    """A figure that was typed and could not be taken."""

    part_id: int
    field: str
    typed: str
    error: str


@frozen
class Asked:
    """Something that is not known.

    Attributes:
        key: its id on the page.
        words: what it is, beginning with a capital.
        waits: the titles of the findings that wait on it, as a list in words.
        how: how one finds it out, "" where that says itself.
        part_id, field: whose it is, None and "" where no one field says it; revision: the part's.
        spec: its field, None where one line cannot ask for it.
        url: where else it is entered, "" nowhere.
        typed, error: what was typed last, and why it could not be taken.
        of_plan: whether it is something that the plan of the load says.
    """

    key: str
    words: str
    waits: str
    how: str
    part_id: int | None
    field: str
    spec: FieldSpec | None
    url: str
    typed: str = ""
    error: str = ""
    of_plan: bool = False
    revision: int = 0


@dataclass(frozen=True)
class Unknowns:
    """What is asked for, and what its owner said cannot be found out."""

    asked: tuple[Asked, ...]
    left_open: tuple[Asked, ...]

    def of(self, finding: ShortFinding) -> tuple[Asked, ...]:
        """Where one goes from a finding that lacks something: at most two ways."""
        lacks = {words[:1].upper() + words[1:] for words in finding.missing}
        fields = {
            (one.part_id, one.field) for one in finding.missing if isinstance(one, Wanted) and one.field
        }
        ways = (one for one in self.asked if one.words in lacks or (one.part_id, one.field) in fields)
        return tuple(one for one in ways if one.url or one.spec)[:2]


def unknowns_of(view: BenchView, reader_id: int, settling: Settling | None) -> Unknowns:
    """What a rig's findings lack, the heaviest finding's first.

    What holds holds whatever the missing figure is: what only such findings lack is not asked.
    """
    # Under the words that it is asked for by first: two parts may bear one name, and one field several.
    waits: dict[tuple[int | None, str], tuple[Wanted, str, list[str]]] = {}
    for finding in in_order(view.short_findings):
        if finding.weight != "sound":
            check = finding.code.partition(".")[0]
            for one in finding.missing:
                if isinstance(one, Wanted):
                    waits.setdefault((one.part_id, one.field or one), (one, check, []))[2].append(
                        finding.title
                    )
    items = view.rig.items
    open_ = view.stored.plan.left_open
    asked: list[Asked] = []
    left: list[Asked] = []
    for one, check, titles in waits.values():
        made = _asked(one, items, reader_id, view.stored.id, check)
        made = replace(made, waits=listed(tuple(dict.fromkeys(titles))))
        if settling and (settling.part_id, settling.field) == (made.part_id, made.field):
            made = replace(made, typed=settling.typed, error=settling.error)
        is_open = made.part_id is not None and LeftOpen(part_id=made.part_id, field=made.field) in open_
        (left if is_open else asked).append(made)
    return Unknowns(tuple(asked), tuple(left))


def _asked(one: Wanted, items: tuple[CataloguedPart, ...], reader_id: int, rig_id: int, check: str) -> Asked:
    item = next((item for item in items if item.id == one.part_id), None)
    words = one[:1].upper() + one[1:]
    if item is None or not one.field:
        kind = FROM_TRAY.get(one.key, "")
        of_plan = not kind and check in LOAD_CHECKS
        url = URLS.load(rig_id) if of_plan else f"{URLS.rig(rig_id, kind=kind)}#tray" if kind else ""
        return Asked("", words, "", "", None, "", None, url, of_plan=of_plan)
    spec = field_of(item.kind, one.field)
    here = spec.shape in IN_PLACE and item.entered_by == reader_id
    found_out = HOW.get(one.key) or HOW.get(f"{item.kind}.{one.field}") or HOW.get(one.field, "")
    how = f"{spec.help} {found_out}".strip() if here else found_out
    if here and one.key in SEVERAL:
        words = f"{spec.label} of {item.name}"
    url = form_for(one, items, reader_id, rig_id)
    # A connection is written anew with what it lacks: what is known of it stands there already.
    typed = write_cell(spec, getattr(item.part, one.field)) if here else ""
    key = f"settle-{one.part_id}-{one.field}"
    shown = spec if here else None
    return Asked(key, words, "", how, one.part_id, one.field, shown, url, typed, revision=item.revision)
