"""The whole of a specification, for one kind of part: what is understood, offered, and left in the note."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any, Literal

from server.domain.fields import FieldSpec
from server.domain.measure import Measure
from server.rim.cells import CellError, read_cell
from server.rim.phrasebook.forms import listed
from server.rim.sensor_size import count_across, in_pixels
from server.rim.spec_reading.kinds import KindSign, kinds_named, signs_of, sure_kind
from server.rim.spec_reading.labels import (
    FOCAL_RATIO,
    KIND_LABELS,
    OPEN_LABELS,
    PIXEL_COUNT,
    SENSOR_SIZE,
    SOME_SIDE,
    labels_of,
)
from server.rim.spec_reading.pieces import Piece, pieces_of
from server.rim.spec_reading.result import Left, Offer, SpecReading, Taken, TwoSides
from server.rim.spec_reading.sides import TWO_SIDES, two_sides
from server.rim.spec_reading.values import CHOICE_WORDS, choice_named, fields_of, read_value, same
from server.units import write_quantity

TEXT_MAXIMUM = 8000
"""Characters of one specification; a choice of ours."""
AGREES_WITHIN = 0.02
"""How far a product of rounded figures may be off the figure that is written beside it; our choice."""

_NUMBER = r"[0-9][0-9.,]*"
_LENGTH = rf"{_NUMBER}\s?(?:mm|cm|in\b\.?|inch\b|inches\b|\"|''|″|”)"
_SHORT = re.compile(rf"(?P<length>{_LENGTH})[\s,]*(?P<ratio>f\s?/?\s?{_NUMBER})(?![0-9])", re.IGNORECASE)
_RATIO = re.compile(rf"f\s?/\s?{_NUMBER}|f{_NUMBER}", re.IGNORECASE)
_THREAD = re.compile(
    r"\bM[0-9]+(?:[.,][0-9]+)?(?:\s?[x×]\s?[0-9]+(?:[.,][0-9]+)?)?"
    r"(?:\s(?:fe)?male)?(?:\sthread)?\b",
    re.IGNORECASE,
)
_WHICH_IS_WHICH = "It does not say which side: write it as sky side or as camera side."
_TIMES = re.compile(rf"{_NUMBER}\s?[x×](?![\w])", re.IGNORECASE)
_BY = re.compile(
    rf"(?P<a>{_NUMBER})\s*(?P<first>mm|cm|in|px|pixels)?\s*[x×*]\s*(?P<b>{_NUMBER})\s*"
    r"(?P<unit>mm|cm|in|inch(?:es)?|px|pix|pixels?)?(?:\s*\([^()]*\))?",
    re.IGNORECASE,
)
_MONEY = re.compile(r"[€$£]|\b[A-Z]{3}\b")
_IDLE = re.compile(r"[\s,;./&+-]*(?:\b(?:and|with|a|an|the)\b[\s,;./&+-]*)*", re.IGNORECASE)
_AT = re.compile(r"\s*(?:@|\bat\b)\s*", re.IGNORECASE)
_RATIO_SPEC = FieldSpec("ratio", "Focal ratio", "measure", "ratio", 0.0, 100.0, above=True)
_LENGTH_SPEC = FieldSpec("length", "Length", "measure", "length", 0.0, 20_000.0, above=True)

_TELESCOPE = re.compile(r"\b(?:telescope|refractor|reflector|ota|optical tube|guide ?scope)\b", re.IGNORECASE)
_LENGTH_IS_ALL = {"spacer_ring": "length_mm", "shim": "length_mm"}
"""Kinds of which a length without a name can only be their own."""


def kinds_spoken_of(text: str) -> tuple[tuple[KindSign, ...], str]:
    """Return what speaks for which kind, and the kind where only one can be meant, else ""."""
    signs = signs_of(tuple(pieces_of(text)))
    return signs, sure_kind(signs)


def read_specification(text: str, kind: str, system: Literal["metric", "imperial"] = "metric") -> SpecReading:
    """Return what a text says of a part of `kind`. It never raises for what the text holds.

    Args:
        text: what was pasted or typed.
        kind: a key of `KINDS`.
        system: the units in which a length that is worked out is offered.
    """
    return _Reader(kind, text, system).read()


@dataclass(frozen=True)
class _Read:
    text: str
    value: Any
    words: str


class _Reader:
    def __init__(self, kind: str, text: str, system: Literal["metric", "imperial"]) -> None:
        self.kind, self.text, self.system = kind, text, system
        self.found: dict[str, list[_Read]] = {}
        self.left: list[Left] = []
        self.offers: list[Offer] = []
        self.order: dict[str, int] = {}
        self.ratios: list[_Read] = []
        self.sizes: list[tuple[_Read, _Read]] = []
        self.short: list[tuple[str, _Read]] = []
        self.lengths: list[_Read] = []
        self.pairs: list[TwoSides] = []
        self.either: list[_Read] = []

    def read(self) -> SpecReading:
        pieces = tuple(pieces_of(self.text))
        for at, piece in enumerate(pieces):
            self.order.setdefault(piece.words, at)
            self._piece(piece)
        self._optics()
        self._sensor()
        self._tables()
        taken = tuple(self._settled())
        first = pieces[0] if pieces else None
        if first and not first.label and "model" not in self.found and Left(first.words) in self.left:
            self._offer("model", first.words[:120], "the beginning of the text")
        # Of several reasons for one line the first is told.
        once = {one.words: one for one in reversed(self.left)}.values()
        left = sorted(once, key=lambda one: self.order.get(one.words, len(self.order)))
        return SpecReading(self.kind, taken, tuple(self.offers), tuple(left), self._pair())

    # Pieces

    def _piece(self, piece: Piece) -> None:
        if piece.strange:
            self._leave(piece.words)
        elif not piece.label:
            self._bare(piece)
        else:
            means = labels_of(self.kind).get(piece.label, ())
            if not means and piece.label in KIND_LABELS and self.kind in kinds_named(piece.value):
                return
            if not means:
                self._leave(piece.words, f"The form of this kind has no field for “{piece.label}”.")
            else:
                self._labelled(piece, means)

    def _labelled(self, piece: Piece, means: tuple[str, ...]) -> None:
        why = ""
        for name in means:
            try:
                return self._meant(name, piece)
            except CellError as error:
                why = why or error.sentence
        if piece.label in KIND_LABELS and self.kind in kinds_named(piece.value):
            return None
        return self._leave(piece.words, why)

    def _meant(self, name: str, piece: Piece) -> None:
        value = piece.value
        if name == FOCAL_RATIO:
            self.ratios.append(self._plainly(_RATIO_SPEC, value, piece.words))
        elif name in (SENSOR_SIZE, PIXEL_COUNT):
            if not self._by(value, piece.words):
                raise CellError("Two numbers are wanted here, like 23.5 x 15.7 mm or 6248 x 4176.")
        elif name == SOME_SIDE:
            self._side(value, piece.words)
        elif name == "dark_current.dark_e_s" and len(parts := _AT.split(value)) == 2:
            dark, cold = (
                self._value(f"dark_current.{column}", part, piece)
                for column, part in zip(("dark_e_s", "temperature_c"), parts, strict=True)
            )
            self._add("dark_current.dark_e_s", dark)
            self._add("dark_current.temperature_c", cold)
        else:
            self._add(name, self._value(name, value, piece))

    def _value(self, name: str, value: str, piece: Piece) -> _Read:
        text, read = read_value(self.kind, name, value, piece.unit)
        return _Read(text, read, piece.words)

    def _plainly(self, spec: FieldSpec, value: str, words: str) -> _Read:
        return _Read(value, read_cell(spec, value.strip(), ""), words)

    def _side(self, value: str, words: str) -> None:
        sides = [
            name for name in ("sky_side", "camera_side", "saddle", "dovetail") if name in fields_of(self.kind)
        ]
        if len(sides) != 1:
            if self._two_sides(value, words):
                return
            text, read = read_value(self.kind, sides[0], value)
            self.either.append(_Read(text, read, words))
            raise CellError(_WHICH_IS_WHICH)
        text, read = read_value(self.kind, sides[0], value)
        self._add(sides[0], _Read(text, read, words))

    def _two_sides(self, value: str, words: str) -> bool:
        """M54 male to M48 female: kept in the note as well, until its owner says which side is which."""
        found = two_sides(value)
        if found is None or not {"sky_side", "camera_side"} <= fields_of(self.kind).keys():
            return False
        one, other = (read_value(self.kind, "sky_side", side)[0] for side in found[:2])
        self.pairs.append(TwoSides(one, other, words, found[2]))
        self._leave(words, _WHICH_IS_WHICH)
        return True

    def _pair(self) -> TwoSides | None:
        """The two connections that are asked about: nothing of more than two, nor where a side is known."""
        if {"sky_side", "camera_side"} & self.found.keys():
            return None
        if len(self.either) == 2 and not self.pairs:
            one, other = self.either
            return TwoSides(one.text, other.text, f"{one.words}; {other.words}", ordered=False)
        return self.pairs[0] if len(self.pairs) == 1 and not self.either else None

    def _add(self, field: str, read: _Read) -> None:
        self.found.setdefault(field, []).append(read)

    def _leave(self, words: str, why: str = "") -> None:
        self.left.append(Left(words, why))

    def _offer(self, field: str, text: str, how: str) -> None:
        if field not in fields_of(self.kind) or field in self.found:
            return
        try:
            read_value(self.kind, field, text)
        except CellError:
            return
        self.offers.append(Offer(field, text, how))

    # What stands without a label

    def _bare(self, piece: Piece) -> None:
        if piece.words.strip(" :").casefold() in OPEN_LABELS or not re.search(r"\w", piece.words):
            return None
        whole = (
            self._bare_mass,
            self._bare_pixel,
            self._bare_only,
            self._bare_side,
            self._bare_price,
            self._bare_by,
        )
        for reader in whole:
            try:
                if reader(piece):
                    return None
            except CellError as error:
                return self._leave(piece.words, error.sentence)
        return self._scan(piece)

    def _bare_mass(self, piece: Piece) -> bool:
        if not re.fullmatch(
            rf"{_NUMBER}\s?(?:kg|g|lbs?|oz)\.?(?:\s?\([^()]*\))?", piece.value, re.IGNORECASE
        ):
            return False
        bears = [name for name in fields_of(self.kind) if name in ("rated_kg", "capacity_kg", "bar_mass_kg")]
        if bears:
            raise CellError("It does not say whether it is the part’s own mass or what it carries.")
        self._add("mass_kg", self._value("mass_kg", piece.value, piece))
        return True

    def _bare_pixel(self, piece: Piece) -> bool:
        if "pixel_um" not in fields_of(self.kind):
            return False
        if not re.fullmatch(rf"{_NUMBER}\s?(?:[uµμ]m|microns?)(?: pixels?)?", piece.value, re.IGNORECASE):
            return False
        self._add("pixel_um", self._value("pixel_um", re.sub(r"\s?pixels?$", "", piece.value), piece))
        return True

    def _bare_only(self, piece: Piece) -> bool:
        """A voltage, current, charge or angle, where the kind has only one field for it."""
        for dimension in ("voltage", "current", "charge", "angle"):
            names = [name for name, spec in fields_of(self.kind).items() if spec.dimension == dimension]
            if len(names) == 1:
                try:
                    self._add(names[0], self._value(names[0], piece.value, piece))
                except CellError:
                    continue
                return True
        return False

    def _bare_side(self, piece: Piece) -> bool:
        try:
            read_cell(FieldSpec("side", "", "connection"), piece.value, "")
        except CellError:
            return False
        if labels_of(self.kind).get("thread") != (SOME_SIDE,):
            return False
        self._side(piece.value, piece.words)
        return True

    def _bare_price(self, piece: Piece) -> bool:
        if not (_MONEY.search(piece.value) and re.search("[0-9]", piece.value)):
            return False
        try:
            self._add("price", self._value("price", piece.value, piece))
        except CellError:
            return False
        return True

    def _bare_by(self, piece: Piece) -> bool:
        return "pixel_um" in fields_of(self.kind) and self._by(piece.value, piece.words)

    def _by(self, value: str, words: str) -> bool:
        """23.5 x 15.7 mm is a size, 6248 x 4176 a count of pixels; anything else is neither."""
        found = _BY.fullmatch(value.strip().rstrip("."))
        if found is None:
            return False
        unit = (found["unit"] or found["first"] or "px").casefold()
        if unit.startswith("p"):
            if not (found["unit"] or found["first"]) and {".", ","} & set(value):
                raise CellError("No unit is written: is it millimetres or pixels?")
            for side, text in (("width_px", found["a"]), ("height_px", found["b"])):
                self._add(side, _Read(text, read_value(self.kind, side, text)[1], words))
            return True
        one, other = (self._plainly(_LENGTH_SPEC, f"{found[it]} {unit}", words) for it in "ab")
        self.sizes.append((one, other))
        return True

    def _scan(self, piece: Piece) -> None:
        """Take out of running words what can mean one thing only; the rest of the words decides on more."""
        rest, keep = piece.value, []
        for hit in _SHORT.finditer(piece.value):
            try:
                ratio = self._plainly(_RATIO_SPEC, hit["ratio"], piece.words)
            except CellError:
                continue
            if "focal_length_mm" in fields_of(self.kind):
                self.short.append((hit["length"], ratio))
                rest = rest.replace(hit[0], " ")
        rest = self._choices(rest, piece.words)
        for words in kinds_named(piece.value).get(self.kind, ()):
            rest = re.sub(rf"\b{re.escape(words)}\b", " ", rest, flags=re.IGNORECASE)
        for pattern, take in self._patterns(piece):
            hits = list(pattern.finditer(rest))
            if len(hits) == 1:
                keep.append(partial(take, hits[0][0].strip()))
                rest = pattern.sub(" ", rest)
        if not _IDLE.fullmatch(rest):
            return self._leave(piece.words)
        for take in keep:
            try:
                take()
            except CellError as error:
                self._leave(piece.words, error.sentence)
        return None

    def _patterns(self, piece: Piece) -> Iterator[tuple[re.Pattern[str], Any]]:
        fields = fields_of(self.kind)
        if labels_of(self.kind).get("thread") == (SOME_SIDE,):
            if {"sky_side", "camera_side"} <= fields.keys():
                yield TWO_SIDES, lambda text: self._two_sides(text, piece.words)
            yield _THREAD, partial(self._side, words=piece.words)
        if "focal_length_mm" in fields:
            yield _RATIO, lambda text: self.ratios.append(self._plainly(_RATIO_SPEC, text, piece.words))
        if "factor" in fields:
            yield _TIMES, lambda text: self._add("factor", self._value("factor", text, piece))
        if name := _LENGTH_IS_ALL.get(self.kind):
            yield re.compile(_LENGTH), lambda text: self._add(name, self._value(name, text, piece))
        else:
            yield (
                re.compile(_LENGTH),
                lambda text: self.lengths.append(self._plainly(_LENGTH_SPEC, text, piece.words)),
            )

    def _choices(self, text: str, words: str) -> str:
        for field in CHOICE_WORDS:
            if field not in fields_of(self.kind):
                continue
            named = sorted(
                (word for all_ in CHOICE_WORDS[field].values() for word in all_.split(", ")), key=len
            )
            pattern = re.compile(rf"\b(?:{'|'.join(map(re.escape, reversed(named)))})\b", re.IGNORECASE)
            for hit in pattern.finditer(text):
                choice = choice_named(field, hit[0])
                self._add(field, _Read(choice, choice, words))
            text = pattern.sub(" ", text)
        return text

    # What several pieces say together

    def _nominal(self, field: str) -> float | None:
        reads = self.found.get(field, [])
        value = reads[0].value if reads and all(same(reads[0].value, one.value) for one in reads) else None
        return value.nominal if isinstance(value, Measure) else None

    def _optics(self) -> None:
        """80 mm f/6: which of the two lengths is 80 mm follows from the other words, or stays open."""
        ratios = [*self.ratios, *(ratio for _, ratio in self.short)]
        for length, ratio in self.short:
            self._short_form(length, ratio)
        aperture, focal = self._nominal("aperture_mm"), self._nominal("focal_length_mm")
        times = ratios[0].value.nominal if ratios else None
        for one in self.lengths:
            if aperture and times and focal is None and _agree(aperture * times, one.value.nominal):
                self._add("focal_length_mm", _Read(*self._as_field("focal_length_mm", one.text), one.words))
            elif not any(same(one.value, read.value) for reads in self.found.values() for read in reads):
                self._leave(one.words, "A length without a name: write what it is the length of.")
        self._ratio_offers(ratios)

    def _as_field(self, field: str, text: str) -> tuple[str, Any]:
        try:
            return read_value(self.kind, field, text)
        except CellError:
            return text, None

    def _short_form(self, length: str, ratio: _Read) -> None:
        designs = {read.value for read in self.found.get("design", ())}
        is_lens = "camera_lens" in designs
        by_name = bool(designs) or bool(_TELESCOPE.search(self.text)) or self.kind == "guide_scope"
        try:
            short = read_cell(_LENGTH_SPEC, length, "").nominal
            product = short * ratio.value.nominal
            known = [self._nominal("focal_length_mm"), *(one.value.nominal for one in self.lengths)]
            if not is_lens and (by_name or any(one and _agree(product, one) for one in known)):
                field = "aperture_mm"
            elif is_lens:
                field = "focal_length_mm"
            else:
                raise CellError(f"Is {length} the aperture or the focal length? Write it with its name.")
            text, value = read_value(self.kind, field, length)
        except CellError as error:
            return self._leave(ratio.words, error.sentence)
        return self._add(field, _Read(text, value, ratio.words))

    def _ratio_offers(self, ratios: list[_Read]) -> None:
        aperture, focal = self._nominal("aperture_mm"), self._nominal("focal_length_mm")
        for one in ratios:
            ratio = one.value.nominal
            if aperture and focal is None:
                self._offer(
                    "focal_length_mm", self._length(aperture * ratio), f"{self._length(aperture)} × {ratio:g}"
                )
            elif focal and aperture is None:
                self._offer("aperture_mm", self._length(focal / ratio), f"{self._length(focal)} ÷ {ratio:g}")
            elif aperture and focal and not _agree(aperture * ratio, focal):
                self._leave(
                    one.words,
                    f"f/{ratio:g} does not agree: aperture and focal length make f/{focal / aperture:.3g}.",
                )
            elif aperture is None and focal is None:
                self._leave(
                    one.words, "A focal ratio alone has no field: it follows from aperture and focal length."
                )

    def _length(self, value: float) -> str:
        # Four digits: it is worked out of rounded figures.
        return write_quantity(float(f"{value:.4g}"), "length", self.system)

    def _sensor(self) -> None:
        pixel = self._nominal("pixel_um")
        for pair in self.sizes:
            for side, one in zip(("width_px", "height_px"), pair, strict=True):
                size, counted = one.value.nominal, self.found.get(side, ())
                if pixel and counted:
                    if not _agree(count_across(size, pixel), counted[0].value):
                        self._leave(
                            one.words, f"{one.text} does not agree with the count and the size of the pixels."
                        )
                elif pixel:
                    how = in_pixels(one.text, pixel)
                    self._offer(side, str(count_across(size, pixel)), how)
                elif counted and side == "width_px":
                    made = f"{size * 1000.0 / counted[0].value:.3g} µm"
                    self._offer("pixel_um", made, f"{one.text} for {counted[0].text} pixels")
                elif not counted:
                    self._leave(
                        one.words, "A sensor is kept by its pixels: their size or their count is missing."
                    )

    def _tables(self) -> None:
        for name, spec in list(fields_of(self.kind).items()):
            parts = {column.name: self.found.pop(f"{name}.{column.name}", []) for column in spec.columns}
            if not any(parts.values()):
                continue
            reads = [read for column in parts.values() for read in column]
            missing = [column.label.casefold() for column in spec.columns if not parts[column.name]]
            if missing or any(len(column) > 1 for column in parts.values()):
                why = (
                    f"{listed(missing)} {'is' if len(missing) == 1 else 'are'} not written"
                    if missing
                    else ("something is written twice")
                )
                asked = listed([column.label.casefold() for column in spec.columns])
                for read in reads:
                    self._leave(read.words, f"{spec.label} asks for {asked} together; {why}.")
                continue
            row = ": ".join(column[0].text for column in parts.values())
            self._add(name, _Read(row, row, "; ".join(dict.fromkeys(read.words for read in reads))))

    def _settled(self) -> Iterator[Taken]:
        """What stands alone or agrees. Of two values that do not, neither is put in."""
        for field, reads in self.found.items():
            if all(same(reads[0].value, other.value) for other in reads[1:]):
                words = "; ".join(dict.fromkeys(read.words for read in reads))
                yield Taken(field, reads[0].text, words)
                continue
            label = fields_of(self.kind)[field].label.casefold()
            said = listed(list(dict.fromkeys(f"“{read.text}”" for read in reads)))
            for read in reads:
                self._leave(read.words, f"The text says {said} for the {label}, so neither is put in.")


def _agree(one: float, other: float) -> bool:
    return abs(one - other) <= AGREES_WITHIN * max(abs(one), abs(other))
