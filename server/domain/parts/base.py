"""What every part has, and what every part on the optical path has besides."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from pydantic import field_validator

from server.domain.connections import Connection
from server.domain.fields import (
    FieldSpec,
    basis_of_figures,
    connection,
    flag,
    mass,
    measure,
    money,
    spec_of,
    text,
)
from server.domain.measure import Basis, Frozen, Measure, Money


class BasePart(Frozen):
    """Common to all kinds. Subclasses set `kind` and add their own fields.

    Attributes:
        basis: where the figures come from unless a figure says otherwise.
    """

    kind_words: ClassVar[str] = "part"
    kind_purpose: ClassVar[str] = ""
    on_path: ClassVar[bool] = False

    if TYPE_CHECKING:

        @property
        def kind(self) -> str:
            """The kind's short name, a field of each kind."""

    maker: str = text("Maker", "Who makes it. Leave empty for something home-made.", maximum=80)
    model: str = text("Model", "What you call it.", maximum=120)
    mass_kg: Measure | None = mass(50.0)
    price: Money | None = money("Price")
    document: str = text("Link or document", "Where the figures are written.", group="Name", maximum=300)
    note: str = text("Note", long=True, maximum=2000)
    basis: Basis = basis_of_figures()

    @field_validator("maker", "model", "document", "note")
    @classmethod
    def _trimmed(cls, value: str) -> str:
        return value.strip()

    @property
    def name(self) -> str:
        """Maker and model, as a person would say it."""
        return f"{self.maker} {self.model}".strip()

    @classmethod
    def specs(cls) -> tuple[FieldSpec, ...]:
        """The fields that a form asks for, in order."""
        found = (spec_of(name, info) for name, info in cls.model_fields.items())
        return tuple(spec for spec in found if spec is not None)

    def basis_of(self, figure: Measure | None) -> Basis:
        """Where one figure of this part came from."""
        return self.basis if figure is None or figure.basis is None else figure.basis


class PathPart(BasePart):
    """A part that light passes through, between two connections.

    `length_mm` is the optical length: shoulder to shoulder when screwed home, threads not counted.
    `aperture_at_mm` is where along the part its smallest clear aperture sits, from the sky-side shoulder.
    """

    on_path: ClassVar[bool] = True

    sky_side: Connection | None = connection(
        "Sky-side connection",
        "Towards the sky. Like: M48x0.75 male, 2 in barrel male, M54x0.75 female, 6 mm deep",
    )
    camera_side: Connection | None = connection("Camera-side connection", "Towards the camera.")
    length_mm: Measure | None = measure(
        "Optical length",
        "length",
        500.0,
        minimum=0.0,
        above=False,
        help="Shoulder to shoulder when screwed home. Threads do not count, nor a nosepiece in its holder.",
        group="Connections",
    )
    clear_aperture_mm: Measure | None = measure(
        "Smallest clear aperture",
        "length",
        1000.0,
        help="The smallest bore light passes.",
        group="Connections",
    )
    aperture_at_mm: Measure | None = measure(
        "Where that aperture is",
        "length",
        500.0,
        above=False,
        help="From the sky-side shoulder; empty means not known.",
        group="Connections",
    )
    reversible: bool | None = flag("Can be turned round", group="Connections")
