"""What is to be photographed: an object of the catalogue, or one of the observer's own."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Literal, Self

from pydantic import Field, model_validator

from server.domain.errors import NotFoundError
from server.domain.measure import Frozen

if TYPE_CHECKING:
    from server.sky.deep_sky import DeepSkyObject

TargetKind = Literal[
    "G", "GPair", "GTrpl", "GGroup", "OCl", "GCl", "Cl+N", "PN", "HII", "EmN", "Neb", "RfN", "SNR", "DrkN",
    "*Ass", "*", "**", "Nova", "Other",
]  # fmt: skip
"""The kinds by the catalogue's own codes."""


class OwnTarget(Frozen):
    """What an observer says of a target of their own.

    Attributes:
        name: what it is called in lists.
        kind: the catalogue's code.
        ra_deg, dec_deg: J2000.
        major_arcmin, minor_arcmin, angle_deg: its ellipse, the angle from north through east; None unknown.
        v_mag: of the whole.
        surface_v_mag: mean V surface brightness, magnitudes per square arcsecond.
    """

    name: str = Field(min_length=1, max_length=80)
    kind: TargetKind = "Other"
    ra_deg: float = Field(ge=0, le=360)
    dec_deg: float = Field(ge=-90, le=90)
    major_arcmin: float | None = Field(default=None, ge=0.01, le=3600)
    minor_arcmin: float | None = Field(default=None, ge=0.01, le=3600)
    angle_deg: float | None = Field(default=None, ge=0, le=360)
    v_mag: float | None = Field(default=None, ge=-5, le=25)
    surface_v_mag: float | None = Field(default=None, ge=10, le=32)

    @model_validator(mode="after")
    def _long_and_short(self) -> Self:
        major, minor = self.major_arcmin, self.minor_arcmin
        if minor is not None and major is None:
            raise ValueError(
                "major_arcmin: Its long side is missing: give that first, the short one after it"
            )
        if minor is not None and major is not None and minor > major:
            raise ValueError(
                f"minor_arcmin: The short side of {minor:g}' is longer than the long one of {major:g}'. "
                "Swap them"
            )
        return self


class Target(OwnTarget):
    """A target, with what the catalogue says of it.

    Attributes:
        other_names: further names. constellation: its three letters, "" for one's own.
        b_mag: of the whole. surface_b_mag: mean within the isophote of 25 B magnitudes.
        hubble: a galaxy's type.
        own: the observer's own entry.
    """

    other_names: tuple[str, ...] = ()
    constellation: str = ""
    b_mag: float | None = Field(default=None, ge=-5, le=25)
    surface_b_mag: float | None = Field(default=None, ge=10, le=32)
    hubble: str = ""
    own: bool = False

    @property
    def ellipse_arcmin(self) -> tuple[float, float] | None:
        """Long and short side; None where its size is not known. A lacking short side is the long one's."""
        if self.major_arcmin is None:
            return None
        return self.major_arcmin, self.minor_arcmin or self.major_arcmin

    @property
    def called(self) -> str:
        """What a sentence calls it: by its Messier number where it has one."""
        return next((name for name in self.other_names if name.startswith("M ")), self.name)

    @property
    def common_name(self) -> str:
        """What people call it, "" for none."""
        return next((name for name in self.other_names if not name.startswith("M ")), "")


class ListedTarget(Frozen):
    """A line of an observer's list. `target` is their own entry; None: the catalogue's object of the name."""

    id: int
    observer_id: int
    revision: int
    name: str
    target: Target | None = None

    @property
    def key(self) -> str:
        """What an address names it by."""
        return self.name if self.target is None else f"own-{self.id}"

    @property
    def seen(self) -> Target:
        """The target itself. Raises NotFoundError where the catalogue has none of the name any more."""
        return catalogue_target(self.name) if self.target is None else self.target


def target_of(one: DeepSkyObject) -> Target:
    """The catalogue's object as a target."""
    return Target(
        name=one.name,
        other_names=tuple(name for name in (one.messier, *one.common_names) if name),
        kind=one.kind,
        constellation=one.constellation,
        ra_deg=one.ra_deg,
        dec_deg=one.dec_deg,
        major_arcmin=one.major_arcmin or None,
        minor_arcmin=one.minor_arcmin or None,
        angle_deg=one.angle_deg,
        v_mag=one.v_mag,
        b_mag=one.b_mag,
        surface_b_mag=one.surface_b_mag,
        hubble=one.hubble,
    )


@lru_cache(256)
def catalogue_target(name: str) -> Target:
    """The object of the catalogue that a name means. Raises NotFoundError."""
    # The catalogue brings numpy: only who asks for the sky waits for it.
    from server.sky.deep_sky import deep_sky

    sky = deep_sky()
    number = sky.number_of(name)
    if number is None:
        raise NotFoundError(
            f"The catalogue knows no “{name[:60]}”. Search by a part of the name, or enter it."
        )
    return target_of(sky.objects[number])


@lru_cache(1)
def credit() -> str:
    """Whose catalogue it is, and its licence."""
    from server.sky.deep_sky import attribution

    return attribution()
