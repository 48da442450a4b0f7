"""The drawer: rings, shims, filters of a set and adapters counted on one page and entered by one press."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, ClassVar

from fastapi import Query, Request
from fastapi.responses import Response

from server.domain.connections import print_connection
from server.domain.errors import NotFoundError
from server.domain.parts import CataloguedPart, Filter
from server.flow.workbench import Workbench
from server.handed.routing import pages
from server.rim import drawer
from server.rim.drawer import Ruler
from server.web.deps import ReadingBench, WritingBench
from server.web.rendering import URLS, go_to, render_block, render_page, wants_block
from server.web.shelf.typed import Typed

router = pages("/shelf")

Numbers = Annotated[str, Query(max_length=10 * drawer.PARTS_MOST)]


@dataclass(frozen=True)
class Labelled:
    """A field by its name, with the words that the list of errors has for it."""

    name: str
    label: str


@dataclass(frozen=True)
class DrawerPage:
    """The drawer with what is counted in it.

    Attributes:
        texts: what stands in the fields; one that is left out is empty.
        errors: sentences by field name.
        makers, connections: what was typed before, to be offered again.
        entered: the parts that were put on the shelf a moment ago.
        had: those of which only the number went up, each with how many are owned now.
        changed: the field that a tap changed a moment ago, or "".
    """

    template: ClassVar[str] = "shelf/drawer.html"

    texts: Mapping[str, str]
    errors: Mapping[str, str]
    makers: tuple[str, ...]
    connections: tuple[str, ...]
    entered: tuple[CataloguedPart, ...] = ()
    had: tuple[tuple[CataloguedPart, int], ...] = ()
    changed: str = ""
    rings: tuple[Ruler, ...] = drawer.RINGS
    more_rings: tuple[Ruler, ...] = drawer.MORE_RINGS
    shims: tuple[Ruler, ...] = drawer.SHIMS
    ends: tuple[tuple[str, str], ...] = drawer.ENDS
    bands: tuple[tuple[str, str, str], ...] = drawer.BANDS
    formats: tuple[tuple[str, str], ...] = drawer.FILTER_FORMATS
    typed_adapters: tuple[str, ...] = drawer.TYPED_ADAPTERS

    @property
    def adapters(self) -> tuple[tuple[str, str], ...]:
        """The usual adapters: the beginning of their fields' names, and what they are called."""
        return drawer.ADAPTER_WORDS

    @property
    def specs(self) -> tuple[Labelled, ...]:
        """The fields that may be wrong, by their words."""
        return LABELS

    def says(self, *beginnings: str) -> bool:
        """Whether something stands, or is wrong, in a field whose name begins so; not the choice of ends."""
        names = [name for name, text in self.texts.items() if text.strip() and not name.endswith(".ends")]
        return any(name.startswith(beginnings) for name in (*names, *self.errors))


def _labels() -> tuple[Labelled, ...]:
    found = [Labelled("maker", "Maker"), Labelled("material", "Material")]
    for ruler in (*drawer.RINGS, *drawer.MORE_RINGS, *drawer.SHIMS):
        words = f"{ruler.kind.capitalize()} {ruler.size}"
        found += [Labelled(name, f"{words}, {length} mm") for name, length in ruler.marks]
        found.append(Labelled(ruler.more, f"{words}, other lengths"))
    for kind in ("ring", "shim"):
        found.append(Labelled(f"{kind}.other.thread", f"Another thread of {kind}s"))
        found.append(Labelled(f"{kind}.other.more", f"Lengths of another thread of {kind}s"))
    for name, words in (("bands", "Bands"), ("maker", "Maker of the set"), ("format", "Size")):
        found.append(Labelled(f"filter.{name}", words))
    found += [Labelled("filter.width", "Band width"), Labelled("filter.thickness", "Glass thickness")]
    rows = [*drawer.ADAPTER_WORDS, *((f"adapter.{row}", "Adapter") for row in drawer.TYPED_ADAPTERS)]
    for name, words in rows:
        found += [
            Labelled(f"{name}.{one}", f"{words}, {said}")
            for one, said in (
                ("count", "how many"),
                ("sky", "sky side"),
                ("camera", "camera side"),
                ("length", "length"),
            )
        ]
    return tuple(found)


LABELS = _labels()


def _page(
    bench: Workbench,
    texts: Mapping[str, str],
    errors: Mapping[str, str] | None = None,
    *,
    changed: str = "",
    entered: tuple[CataloguedPart, ...] = (),
    had: tuple[tuple[CataloguedPart, int], ...] = (),
) -> DrawerPage:
    known = bench.remembered()
    return DrawerPage(
        texts=texts,
        errors=errors or {},
        makers=known.makers,
        connections=tuple(map(print_connection, known.connections)),
        entered=entered,
        had=had,
        changed=changed,
    )


@router.get("/drawer")
def show_drawer(request: Request, bench: ReadingBench, entered: Numbers = "", had: Numbers = "") -> Response:
    """The empty drawer. Maker and material of what was put in a moment ago stand in it again."""
    new, known = _parts(bench, entered), _parts(bench, had)
    held = bench.holdings([item.id for item in known])
    counts = tuple((item, held[item.id].owned if item.id in held else 0) for item in known)
    texts: dict[str, str] = {}
    for item in (*new, *known):
        if isinstance(item.part, Filter):
            texts.setdefault("filter.maker", item.part.maker)
        else:
            texts.setdefault("maker", item.part.maker)
            texts.setdefault("material", drawer.material_of(item.part))
    return render_page(request, _page(bench, texts, entered=new, had=counts))


def _parts(bench: Workbench, numbers: str) -> tuple[CataloguedPart, ...]:
    """The parts of an address; what has left the catalogue since is left out."""
    found = []
    for number in numbers.split("-"):
        if number.isascii() and number.isdigit() and len(number) < 10:
            try:
                found.append(bench.part(int(number)))
            except NotFoundError:
                continue
    return tuple(found)


@router.post("/drawer")
def enter_drawer(request: Request, typed: Typed, bench: WritingBench) -> Response:
    """Put all that is counted on the shelf, or nothing where something cannot be taken.

    With `more` one more is counted and nothing is stored: so a ruler is tapped where no script runs.
    """
    if name := typed.get("more", ""):
        return _form(request, _page(bench, _one_more(typed, name), changed=name))
    reading = drawer.read_drawer(typed)
    if reading.errors:
        return _form(request, _page(bench, typed, reading.errors), 422)
    counted = bench.count_in_parts(reading.rows)
    return go_to(request, URLS.drawer(counted.entered, counted.known))


def _one_more(typed: Mapping[str, str], name: str) -> dict[str, str]:
    before = typed.get(name, "").strip() or "0"
    if not (before.isascii() and before.isdigit() and len(before) < 3):
        return dict(typed)
    return {**typed, name: str(min(int(before) + 1, drawer.COUNT_MOST))}


def _form(request: Request, page: DrawerPage, status: int = 200) -> Response:
    if wants_block(request):
        return render_block(request, page, "form", status)
    return render_page(request, page, status)
