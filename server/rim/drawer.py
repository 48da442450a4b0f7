"""A drawer of small parts as it is counted -> the parts with how many of each one owns.

Rings and shims are counted on rulers, by thread and length; filters come as a set, adapters as pairs of
threads. A part is made by `read_part`, as if its own form had been filled in, and gets a plain name. What
nobody typed, such as a mass, stays unknown.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from server.domain.connections import (
    Connection,
    InchThread,
    MetricThread,
    gender_of,
    print_connection,
    read_connection,
)
from server.domain.errors import FieldErrors
from server.domain.fields import FieldSpec
from server.domain.measure import Measure
from server.domain.parts import Part
from server.domain.parts.filters import FORMATS
from server.rim.cells import CellError, read_cell
from server.rim.connection_picker import USUAL_PITCH
from server.rim.forms import field_of, read_part
from server.rim.wording import write_measure

RING_LENGTHS = (*range(1, 11), 12, 15, 20, 25, 30, 35, 40, 45, 50)
"""Round lengths of rings, mm: a choice of ours."""
SHIM_TENTHS = (*range(1, 11), 12, 15, 20)
"""Thicknesses of shims, tenths of a millimetre: a choice of ours."""
RING_THREADS = ("M42x0.75", "M48x0.75", "M54x0.75", "M68x1")
MORE_RING_THREADS = ("M28.5x0.6", "M42x1", "M63x1", "M72x1", "M82x1", "M92x1")
SHIM_THREADS = ("M42", "M48", "M54", "M68")
_TWO_PITCHES = 42.0
"""M42x0.75 is the T thread, M42x1 that of old camera lenses (common practice, no source)."""

ENDS = (
    ("usual", "female to the sky, male to the camera"),
    ("turned", "male to the sky, female to the camera"),
    ("unknown", "not known"),
)
_GENDERS = {"usual": ("female", "male"), "turned": ("male", "female"), "unknown": (None, None)}

BANDS = (
    ("luminance", "Luminance", ""),
    ("red", "Red", ""),
    ("green", "Green", ""),
    ("blue", "Blue", ""),
    ("ha", "H-alpha", "656.3 nm"),
    ("oiii", "OIII", "500.7 nm"),
    ("sii", "SII", "672.4 nm"),
)
"""Bands of a set, with the wavelength of the line in air that a narrow one is named by.

Source: NIST Atomic Spectra Database; of the pairs of OIII the stronger line, of SII the middle of both.
"""
FILTER_FORMATS = tuple(one for one in FORMATS if one[0].startswith(("mounted", "round")))

ADAPTERS = (
    ("M48x0.75", "M42x0.75"),
    ("M42x0.75", "M48x0.75"),
    ("M54x0.75", "M48x0.75"),
    ("M48x0.75", "M54x0.75"),
    ("M63x1", "M48x0.75"),
    ("M68x1", "M54x0.75"),
    ("M68x1", "M48x0.75"),
    ("2 in barrel male", "M48x0.75"),
    ("2 in barrel male", "M42x0.75"),
    ("1.25 in barrel male", "M42x0.75"),
)
"""Usual adapters, sky side first (common practice, no source)."""
TYPED_ADAPTERS = ("a", "b")
"""Rows for adapters of any other connections."""

COUNT_MOST = 99
LIST_MAXIMUM = 300
PARTS_MOST = 300
"""Different parts of one drawer: what was entered is told by an address, which has an end."""
_COUNT = FieldSpec("count", "How many", "count", "count", 0, COUNT_MOST)
_APART = re.compile(r"[;\n]|,(?=\s)")
_TIMES = re.compile(r"([1-9][0-9]?)\s*[x×]\s*(?=[0-9.])")
_INCHES = re.compile(r"[0-9]\s*(?:in\b|inch|\"|″|”|'')", re.IGNORECASE)
_MATERIAL = "Material: "


@dataclass(frozen=True)
class Ruler:
    """The lengths of one kind and thread that are counted.

    Attributes:
        kind: "ring" or "shim".
        thread: as the field names have it: "M48x0.75", of a shim "M48".
        marks: field names with the length in mm as a text.
    """

    kind: str
    thread: str
    marks: tuple[tuple[str, str], ...]

    @property
    def size(self) -> str:
        """The thread as names have it."""
        return short_size(read_connection(self.thread)) if self.kind == "ring" else self.thread

    @property
    def words(self) -> str:
        """What one of them is called, without its length."""
        return f"{self.kind} {self.size}"

    @property
    def more(self) -> str:
        """The field of other lengths."""
        return f"{self.kind}.{self.thread}.more"


def _ruler(kind: str, thread: str) -> Ruler:
    lengths = (
        [f"{one}" for one in RING_LENGTHS] if kind == "ring" else [f"{one / 10:g}" for one in SHIM_TENTHS]
    )
    return Ruler(kind, thread, tuple((f"{kind}.{thread}.{one}", one) for one in lengths))


RINGS = tuple(_ruler("ring", thread) for thread in RING_THREADS)
MORE_RINGS = tuple(_ruler("ring", thread) for thread in MORE_RING_THREADS)
SHIMS = tuple(_ruler("shim", thread) for thread in SHIM_THREADS)


@dataclass(frozen=True)
class DrawerReading:
    """What a drawer holds.

    Attributes:
        rows: the parts, each once, with how many are owned.
        errors: a sentence for each field that cannot be taken.
    """

    rows: tuple[tuple[Part, int], ...]
    errors: Mapping[str, str]


def short_size(connection: Connection) -> str:
    """Return a size as names have it: M48 for M48x0.75, M42x1 in full since there are two of M42."""
    if isinstance(connection, MetricThread) and connection.diameter_mm != _TWO_PITCHES:
        usual = USUAL_PITCH.get(connection.diameter_mm)
        if usual is not None and connection.pitch_mm == usual:
            return f"M{connection.diameter_mm:g}"
    return print_connection(_bare(connection)).removesuffix(" barrel")


def _bare(connection: Connection) -> Connection:
    none = {name: None for name in ("gender", "thread_mm") if hasattr(connection, name)}
    return connection.model_copy(update=none)


def material_of(part: Part) -> str:
    """Return the material that a drawer wrote into the note of a part, or ""."""
    return part.note.removeprefix(_MATERIAL) if part.note.startswith(_MATERIAL) else ""


def read_drawer(texts: Mapping[str, str]) -> DrawerReading:
    """Return the parts that the texts of a drawer tell of, by field name; other names are not looked at."""
    reader = _Reader(texts)
    for ruler in (*RINGS, *MORE_RINGS, *SHIMS):
        reader.ruler(ruler)
    for kind in ("ring", "shim"):
        reader.other_thread(kind)
    reader.filters()
    reader.adapters()
    if not reader.rows and not reader.errors:
        reader.errors["maker"] = "Nothing is counted yet. Tap a length, tick a band, or type a number."
    if len(reader.rows) > PARTS_MOST:
        reader.errors["maker"] = (
            f"These are {len(reader.rows)} different parts; at most {PARTS_MOST} are entered at once. "
            "Leave some for a second drawer."
        )
    return DrawerReading(tuple(reader.rows.values()), reader.errors)


@dataclass
class _Reader:
    texts: Mapping[str, str]
    rows: dict[str, tuple[Part, int]] = field(default_factory=dict)
    errors: dict[str, str] = field(default_factory=dict)

    def text(self, name: str) -> str:
        return self.texts.get(name, "").strip()

    def count(self, name: str) -> int:
        try:
            return read_cell(_COUNT, self.text(name), "") or 0
        except CellError as error:
            self.errors[name] = error.sentence
            return 0

    def add(self, kind: str, texts: Mapping[str, str], count: int, at: Mapping[str, str]) -> None:
        """Take in a part. `at` says which field of the drawer a field of the part came from."""
        try:
            part = read_part(kind, texts)
        except FieldErrors as error:
            for name, sentence in error.errors.items():
                self.errors.setdefault(at.get(name) or at[""], sentence)
            return
        key = part.model_dump_json()
        self.rows[key] = (part, count + self.rows.get(key, (part, 0))[1])

    def common(self) -> dict[str, str]:
        material = self.text("material")
        return {"maker": self.text("maker"), "note": f"{_MATERIAL}{material}" if material else ""}

    # Rings and shims

    def ruler(self, ruler: Ruler) -> None:
        for name, length in ruler.marks:
            if count := self.count(name):
                self.one(ruler.kind, ruler.thread, f"{length} mm", count, name)
        self.listed(ruler.kind, ruler.thread, ruler.more)

    def other_thread(self, kind: str) -> None:
        name, thread = f"{kind}.other.thread", self.text(f"{kind}.other.thread")
        if not thread:
            if self.text(f"{kind}.other.more"):
                self.errors[name] = "Of which thread are these? Write it like M56x1."
            return
        try:
            read = read_cell(FieldSpec("thread", "Thread", "connection"), thread, "")
        except CellError as error:
            self.errors[name] = error.sentence
            return
        if not isinstance(read, MetricThread | InchThread):
            self.errors[name] = "This is no thread. Write one like M56x1, or enter the part by its own form."
        elif not self.text(f"{kind}.other.more"):
            self.errors[f"{kind}.other.more"] = "Which lengths of this thread are there?"
        else:
            self.listed(kind, print_connection(_bare(read)), f"{kind}.other.more")

    def listed(self, kind: str, thread: str, name: str) -> None:
        """Lengths that are typed: 7.5; 16.5; 2 x 21 mm."""
        typed = self.text(name)
        if len(typed) > LIST_MAXIMUM:
            self.errors[name] = f"This has {len(typed)} characters; at most {LIST_MAXIMUM} are read."
            return
        for item in filter(None, (one.strip() for one in _APART.split(typed))):
            times = _TIMES.match(item)
            length = item[times.end() :] if times else item
            self.one(kind, thread, length, int(times[1]) if times else 1, name)

    def one(self, kind: str, thread: str, length: str, count: int, name: str) -> None:
        spec = field_of("spacer_ring" if kind == "ring" else "shim", "length_mm")
        try:
            measure = read_cell(spec, length, "spacer ring" if kind == "ring" else "shim")
        except CellError as error:
            self.errors.setdefault(name, error.sentence)
            return
        shown = f", {_short_length(measure, length)}"
        size: Any = read_connection(thread)
        at = {"": name, "maker": "maker", "note": "material"}
        if kind == "ring":
            sky, camera = self.ends("ring.ends", thread, thread)
            texts = {"model": f"Ring {short_size(size)}{shown}", "length_mm": length}
            self.add(
                "spacer_ring", self.common() | texts | {"sky_side": sky, "camera_side": camera}, count, at
            )
            return
        metric = isinstance(size, MetricThread)
        texts = {
            "model": f"Shim {f'M{size.diameter_mm:g}' if metric else short_size(size)}{shown}",
            "length_mm": length,
            "fits_from_mm": f"{size.diameter_mm:g} mm" if metric else f"{size.diameter_in:g} in",
        }
        self.add("shim", self.common() | texts, count, at)

    def ends(self, name: str, sky: str, camera: str) -> tuple[str, str]:
        """Both sides with the genders that are chosen; one that says its own keeps it."""
        genders = _GENDERS.get(self.text(name) or "usual", (None, None))
        return _gendered(sky, genders[0]), _gendered(camera, genders[1])

    # Filters of a set

    def filters(self) -> None:
        ticked = {one.strip() for one in self.text("filter.bands").split(";")}
        chosen = [band for band in BANDS if band[0] in ticked]
        said = [name for name in ("maker", "format", "width", "thickness") if self.text(f"filter.{name}")]
        if said and not chosen:
            self.errors["filter.bands"] = (
                "Which filters are in the set? Tick them, or empty the set’s other fields."
            )
        size = self.text("filter.format")
        words = dict(FILTER_FORMATS).get(size, "").partition(", ")[2]
        for _, name, line in chosen:
            texts = {
                "maker": self.text("filter.maker"),
                "model": f"{name}, {words}" if words else name,
                "format": size,
                "thickness_mm": self.text("filter.thickness"),
                "broadband": "no" if line else "yes",
            }
            if line:
                texts |= {"band_centre_nm": f"{line} (assumed)", "band_width_nm": self.text("filter.width")}
            at = {"": "filter.bands", "thickness_mm": "filter.thickness", "band_width_nm": "filter.width"}
            self.add("filter", texts, 1, at | {"maker": "filter.maker", "format": "filter.format"})

    # Adapters

    def adapters(self) -> None:
        for at, (sky, camera) in enumerate(ADAPTERS):
            self.adapter(f"adapter.{at}", sky, camera, f"adapter.{at}.count")
        for row in TYPED_ADAPTERS:
            name = f"adapter.{row}"
            sky, camera = self.text(f"{name}.sky"), self.text(f"{name}.camera")
            if sky and camera:
                self.adapter(name, sky, camera, f"{name}.sky", own=True)
            elif sky or camera or self.text(f"{name}.length") or self.count(f"{name}.count"):
                missing = "camera" if sky else "sky"
                self.errors[f"{name}.{missing}"] = "Write both sides, like M56x1 and M48x0.75."

    def adapter(self, name: str, sky: str, camera: str, first: str, own: bool = False) -> None:
        length, many = self.text(f"{name}.length"), self.text(f"{name}.count")
        # A length alone, or both sides, tell of one.
        count = self.count(f"{name}.count") if many else int(bool(length) or own)
        if not count:
            return
        spec = FieldSpec("side", "Side", "connection")
        shown = ""
        for side, text in (("sky", sky), ("camera", camera), ("length", length)):
            try:
                asked = field_of("adapter", "length_mm") if side == "length" else spec
                read: Any = read_cell(asked, text, "adapter")
            except CellError as error:
                self.errors[f"{name}.{side}"] = error.sentence
                continue
            if side == "length":
                shown += f", {_short_length(read, length)}" if read else ""
            else:
                shown += f" to {short_size(read)}" if shown else f" {short_size(read)}"
        if any(f"{name}.{side}" in self.errors for side in ("sky", "camera", "length")):
            return
        sky_side, camera_side = self.ends("adapter.ends", sky, camera)
        texts = {"model": f"Adapter{shown}", "sky_side": sky_side, "camera_side": camera_side}
        at = {"": first, "length_mm": f"{name}.length", "maker": "maker", "note": "material"}
        self.add("adapter", self.common() | texts | {"length_mm": length}, count, at)


def _gendered(text: str, gender: str | None) -> str:
    connection = read_connection(text)
    if gender is None or gender_of(connection) or not hasattr(connection, "gender"):
        return text
    return print_connection(connection.model_copy(update={"gender": gender}))


def _short_length(measure: Measure, typed: str) -> str:
    """A length as a name has it, in the unit it was typed in and without its tolerance."""
    return write_measure(
        Measure(nominal=measure.nominal), "length", "imperial" if _INCHES.search(typed) else "metric"
    )


def _adapter_words() -> tuple[tuple[str, str], ...]:
    sizes = [[short_size(read_connection(side)) for side in sides] for sides in ADAPTERS]
    return tuple((f"adapter.{at}", f"{sky} to {camera}") for at, (sky, camera) in enumerate(sizes))


ADAPTER_WORDS = _adapter_words()
"""The usual adapters: the beginning of their fields' names, and what they are called."""
