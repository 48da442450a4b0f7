"""A small writer of SVG: everything is escaped, and what a content policy refuses is not written."""

from __future__ import annotations

import re
from functools import lru_cache

_FORBIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
"""What XML 1.0 (section 2.2) does not let a document hold, and the C1 controls that nobody means."""

_CAMEL = ("viewBox", "patternUnits")

Value = str | float | int | None


@lru_cache(maxsize=2048)
def escape(text: str) -> str:
    """Return text that is safe inside an element and inside a double-quoted attribute."""
    if not text.isprintable():
        text = _FORBIDDEN.sub("", text)
    return (
        text.replace("&", "&amp;")
        .replace("<", "&lt;")
        .replace(">", "&gt;")
        .replace('"', "&quot;")
        .replace("'", "&#39;")
    )


def number(value: float) -> str:
    """Return a number with six significant digits, which is finer than any screen."""
    return f"{value:.6g}"


def points(pairs: list[tuple[float, float]]) -> str:
    """Return the `points` of a polyline or polygon, to a hundredth."""
    return " ".join([f"{x:.2f},{y:.2f}" for x, y in pairs])


@lru_cache(maxsize=256)
def _key(name: str) -> str:
    """Return an attribute's name as SVG writes it. Raises ValueError for what the content policy refuses."""
    key = "class" if name == "class_" else name if name in _CAMEL else name.replace("_", "-")
    if key == "style" or key.startswith("on"):
        raise ValueError(f"{key} may not be written: the page's content policy refuses it; use a class")
    return key


def _attributes(attributes: dict[str, Value]) -> str:
    if not attributes:
        return ""
    written: list[str] = []
    for name, value in attributes.items():
        if value is not None:
            text = escape(value) if isinstance(value, str) else f"{value:.6g}"
            written.append(f' {_key(name)}="{text}"')
    return "".join(written)


class Svg:
    """Collects elements in order. Attributes are keywords: `class_` is class, an underscore is a hyphen."""

    def __init__(self) -> None:
        self._parts: list[str] = []
        self._open: list[str] = []

    def open(self, tag: str, **attributes: Value) -> None:
        """Begin an element."""
        self._parts.append(f"<{tag}{_attributes(attributes)}>")
        self._open.append(tag)

    def head(
        self,
        width: float,
        height: float,
        class_: str,
        prefix: str,
        title: str,
        desc: str,
        *,
        held: bool = False,
    ) -> None:
        """Begin a picture of this size with its title and description, whose ids begin with `prefix`.

        held: one with links in it, which a picture may not hold: a group inside is the picture then.
        """
        size = {"width": round(width), "height": round(height)}
        told = {"role": "img", "aria_labelledby": f"{prefix}-title", "aria_describedby": f"{prefix}-desc"}
        self.open(
            "svg",
            xmlns="http://www.w3.org/2000/svg",
            viewBox=f"0 0 {width:.0f} {height:.0f}",
            **size,
            class_=class_,
            **({} if held else told),
        )
        if held:
            self.open("g", **told)
        self.words("title", title, id=f"{prefix}-title")
        self.words("desc", desc, id=f"{prefix}-desc")

    def close(self) -> None:
        """End the element that was begun last."""
        self._parts.append(f"</{self._open.pop()}>")

    def words(self, tag: str, content: str, **attributes: Value) -> None:
        """Write an element that holds only text."""
        self._parts.append(f"<{tag}{_attributes(attributes)}>{escape(content)}</{tag}>")

    # A drawing is some hundred of the following, made anew at every change on the bench: the attributes that
    # each of them always has are written without the detour by a dictionary, which halves their cost.

    def text(self, x: float, y: float, content: str, class_: str = "dw-text", **attributes: Value) -> None:
        """Write a line of text at a point."""
        self._parts.append(
            f'<text x="{x:.6g}" y="{y:.6g}" class="{escape(class_)}"{_attributes(attributes)}>'
            f"{escape(content)}</text>"
        )

    def line(self, x1: float, y1: float, x2: float, y2: float, class_: str) -> None:
        """Write a straight line."""
        self._parts.append(
            f'<line x1="{x1:.6g}" y1="{y1:.6g}" x2="{x2:.6g}" y2="{y2:.6g}" class="{escape(class_)}"/>'
        )

    def rect(self, x: float, y: float, width: float, height: float, class_: str, **attributes: Value) -> None:
        """Write a rectangle; a negative size becomes 0."""
        self._parts.append(
            f'<rect x="{x:.6g}" y="{y:.6g}" width="{max(0.0, width):.6g}" height="{max(0.0, height):.6g}" '
            f'class="{escape(class_)}"{_attributes(attributes)}/>'
        )

    def polyline(self, pairs: list[tuple[float, float]], class_: str) -> None:
        """Write an open run of lines."""
        self._parts.append(f'<polyline points="{points(pairs)}" class="{escape(class_)}"/>')

    def polygon(self, pairs: list[tuple[float, float]], class_: str, **attributes: Value) -> None:
        """Write a closed run of lines."""
        self._parts.append(
            f'<polygon points="{points(pairs)}" class="{escape(class_)}"{_attributes(attributes)}/>'
        )

    def path(self, d: str, class_: str) -> None:
        """Write a path."""
        self._parts.append(f'<path d="{escape(d)}" class="{escape(class_)}"/>')

    def circle(self, cx: float, cy: float, r: float, class_: str) -> None:
        """Write a circle."""
        self._parts.append(f'<circle cx="{cx:.6g}" cy="{cy:.6g}" r="{r:.6g}" class="{escape(class_)}"/>')

    def zigzag(self, x: float, top: float, bottom: float, class_: str, tooth: float = 4.0) -> None:
        """Write a break line down from `top` to `bottom`: what lies beyond is not drawn."""
        count = min(60, max(2, round((bottom - top) / (2.0 * tooth))))
        step = (bottom - top) / count
        pairs = [(x, top)]
        pairs += [(x + (tooth if i % 2 else -tooth), top + step * (i + 0.5)) for i in range(count)]
        self.polyline([*pairs, (x, bottom)], class_)

    def torn(self, x: float, top: float, bottom: float) -> None:
        """Write a break line with its cut: the straight edge under it is cleared away."""
        self.line(x, top, x, bottom, "dw-break-clear")
        self.zigzag(x, top, bottom, "dw-break", 3.0)

    def __str__(self) -> str:
        return "".join(self._parts)
