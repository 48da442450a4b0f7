"""Sites and own targets: their forms."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from markupsafe import Markup

from server.domain.errors import FieldErrors
from server.domain.fields import FieldSpec
from server.domain.sky.site import USUAL_LOWEST_DEG, StoredSite
from server.domain.sky.target import ListedTarget
from server.rim.sky_forms import SITE_SPECS, TARGET_SPECS, read_site, zones
from server.rim.sky_words import in_other_measures
from server.web.sky.horizon import horizon_svg


@dataclass(frozen=True)
class SitePage:
    """The form of a site.

    Attributes:
        stored: None for a new one.
        texts, errors: what stands in the fields, and what is wrong.
        revision: the one that the form was made on. stale: what to say where another window changed it.
        picture: the lowest altitudes, as far as they can be read. dark: how dark it is, in all measures.
    """

    template: ClassVar[str] = "sky/site.html"

    stored: StoredSite | None
    texts: Mapping[str, str]
    errors: Mapping[str, str]
    revision: int
    stale: str
    picture: Markup
    dark: str = ""
    specs: tuple[FieldSpec, ...] = SITE_SPECS
    zones: tuple[str, ...] = ()


@dataclass(frozen=True)
class OwnTargetPage:
    """The form of an own target; the attributes as of a site's."""

    template: ClassVar[str] = "sky/own_target.html"

    stored: ListedTarget | None
    texts: Mapping[str, str]
    errors: Mapping[str, str]
    revision: int
    stale: str
    specs: tuple[FieldSpec, ...] = TARGET_SPECS


def site_page(
    stored: StoredSite | None, texts: Mapping[str, str], errors: Mapping[str, str], stale: str = ""
) -> SitePage:
    """Build the form."""
    revision = 0 if stored is None else stored.revision
    sky = None if stored is None else stored.site.sky
    dark = "" if sky is None else in_other_measures(sky)
    texts = dict(texts)
    texts.setdefault("horizon", f"{USUAL_LOWEST_DEG:g}")
    return SitePage(stored, texts, errors, revision, stale, _picture(texts["horizon"]), dark, zones=zones())


def _picture(text: str) -> Markup:
    """The line as far as it can be read, else the usual one."""
    try:
        points = read_site(
            {"name": "x", "latitude_deg": "0", "longitude_deg": "0", "zone": "UTC", "horizon": text}
        ).horizon
    except FieldErrors:
        points = ((0.0, USUAL_LOWEST_DEG),)
    return horizon_svg(points)


def own_target_page(
    stored: ListedTarget | None, texts: Mapping[str, str], errors: Mapping[str, str], stale: str = ""
) -> OwnTargetPage:
    """Build the form."""
    return OwnTargetPage(stored, texts, errors, 0 if stored is None else stored.revision, stale)
