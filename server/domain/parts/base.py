"""What every part has, and what every part on the optical path has besides."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, ClassVar, cast

from pydantic import field_validator

from server.domain.connections import Connection
from server.domain.fields import (
    FieldSpec,
    Role,
    basis_of_figures,
    connection,
    flag,
    mass,
    measure,
    money,
    spec_of,
    text,
)
from server.domain.measure import Basis, Frozen, Measure, Money, nominal
from server.domain.parts.capabilities import Draw, Pane, Rides, Settable
from server.domain.said import said


class BasePart(Frozen):
    """Common to all kinds. Subclasses set `kind` and add their own fields.

    What it can do stands here and not in lists of kinds: checks ask `figure`, `draw`, `pane`, `settable`,
    `rides_at` and `on_saddle`. A field made by a helper with a role answers by itself.

    Attributes:
        kind_words, kind_purpose: what the kind is called, and what it is for.
        on_path: whether it can stand in the train.
        only_joins: whether it adds length or joins and does nothing else, so that it may come and go.
        carrier_words: which piece of it carries what hangs behind it; "" for the part itself.
        rides: where it goes beside the train.
        seldom_draws: most of the kind take no current, so that nobody is asked for it.
        draws_while: how long its current is taken to flow: a key of the phrasebook's "draw.".
        basis: where the figures come from unless a figure says otherwise.
    """

    kind_words: ClassVar[str] = "part"
    kind_purpose: ClassVar[str] = ""
    on_path: ClassVar[bool] = False
    only_joins: ClassVar[bool] = False
    carrier_words: ClassVar[str] = ""
    rides: ClassVar[Rides] = "saddle"
    seldom_draws: ClassVar[bool] = False
    draws_while: ClassVar[str] = "on"

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

    @classmethod
    def field_of(cls, role: Role) -> str:
        """The field of this kind that has a role, "" where none has."""
        return _field_of(cls, role)

    def figure(self, role: Role) -> Measure | None:
        """The figure with a role; None while unknown and where the kind has none."""
        name = self.field_of(role)
        return cast("Measure | None", getattr(self, name)) if name else None

    @property
    def rides_at(self) -> Rides | None:
        """Where it goes beside the train; None while nobody said."""
        return self.rides

    @property
    def on_saddle(self) -> tuple[Measure | None, str]:
        """What it weighs on the saddle, and which mass that is."""
        return self.mass_kg, "mass"

    @property
    def pane(self) -> Pane | None:
        """The glass that it puts across the beam, None for none."""
        field, thickness = self.field_of("glass"), self.figure("glass")
        if not field:
            return None
        ask = (field, "thickness_mm") if thickness is None else None
        return Pane(thickness, self.figure("index"), ask=ask)

    @property
    def settable(self) -> Settable | None:
        """The lengths that it can be set to, None for a fixed one and while an end is unknown."""
        return None

    def draw(self, cooling_k: float | None) -> Draw:  # noqa: ARG002 - only cameras are cooled
        """The current that it takes; cooling_k: how far below the air a camera is to be cooled, K."""
        field, on = self.field_of("draws"), self.figure("draws")
        if on is not None:
            basis = self.basis_of(on)
            return Draw(
                on.nominal, on.nominal, (said(f"draw.{self.draws_while}"),), basis=basis, peak_basis=basis
            )
        if not field or self.seldom_draws:
            return Draw(taken_none=self.seldom_draws)
        return Draw(asks=((field, "current_or_none"),))


@cache
def _field_of(kind: type[BasePart], role: Role) -> str:
    return next((spec.name for spec in kind.specs() if spec.role == role), "")


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

    @property
    def settable(self) -> Settable | None:
        """From `length_mm` to the figure with the role "longest"."""
        longest = self.figure("longest")
        if longest is None or self.length_mm is None:
            return None
        return Settable(self.length_mm.nominal, longest.nominal, nominal(self.figure("step")))
