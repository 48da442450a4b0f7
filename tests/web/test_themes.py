"""The themes' colours, worked out from the tokens as they stand in the style sheet.

Contrast: Web Content Accessibility Guidelines (WCAG) 2.2, W3C Recommendation of 5 October 2023: the
definitions of "relative luminance" and "contrast ratio", success criteria 1.4.3 (text: 4.5 to 1) and 1.4.11
(controls and drawings: 3 to 1).
"""

from __future__ import annotations

import re

import pytest

from server import paths

TEXT = 4.5
NOT_TEXT = 3.0
PAPERS = ("paper", "paper-2", "paper-3")
INKS = ("ink", "ink-2", "accent", "stop", "watch", "sound", "unknown")
FILLED = ("stop", "watch", "sound", "unknown")
PICTURES = ("fill-1", "fill-2", "fill-3", "glass", "beam")
NAMES = {
    *PAPERS,
    *INKS,
    *PICTURES,
    *(f"{name}-fill" for name in FILLED),
    "line",
    "line-2",
    "accent-ink",
    "starlight",
    "focus",
}

SHEET = re.sub(
    r"/\*.*?\*/", "", (paths.STATIC / "css" / "tokens.css").read_text(encoding="utf-8"), flags=re.DOTALL
)


def tokens(selector: str) -> dict[str, str]:
    """The colours that a rule sets, by name."""
    found = re.search(re.escape(selector) + r"\s*\{([^}]*)\}", SHEET)
    assert found is not None, selector
    return dict(re.findall(r"--([a-z0-9-]+):\s*(#[0-9a-f]{6});", found[1]))


THEMES = {
    "light": tokens('html[data-theme="light"]'),
    "dark": tokens('html[data-theme="dark"]'),
    "red": tokens('html[data-theme="red"]'),
}


def channels(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def luminance(colour: str) -> float:
    """WCAG 2.2, "relative luminance"."""
    linear = [
        share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4
        for share in (channel / 255 for channel in channels(colour))
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, "contrast ratio"."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def test_the_contrast_of_black_on_white_and_of_the_lightest_allowed_grey_is_as_published():
    # WCAG 2.2, "contrast ratio": ratios go from 1 to 21. That #767676 on white is just enough, 4.54 to 1, is
    # common practice among designers (from memory, no source).
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("theme", THEMES)
def test_every_theme_sets_every_colour(theme: str):
    assert set(THEMES[theme]) == NAMES


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("ink", INKS)
@pytest.mark.parametrize("theme", THEMES)
def test_every_ink_can_be_read_on_every_paper(theme: str, ink: str, paper: str):
    colours = THEMES[theme]
    assert contrast(colours[ink], colours[paper]) >= TEXT


@pytest.mark.parametrize("name", FILLED)
@pytest.mark.parametrize("theme", THEMES)
def test_a_weight_and_its_sentence_can_be_read_on_the_weights_own_surface(theme: str, name: str):
    colours = THEMES[theme]
    for ink in (name, "ink", "ink-2", "accent"):
        assert contrast(colours[ink], colours[f"{name}-fill"]) >= TEXT


@pytest.mark.parametrize("theme", THEMES)
def test_a_strong_buttons_words_can_be_read(theme: str):
    assert contrast(THEMES[theme]["accent-ink"], THEMES[theme]["accent"]) >= TEXT


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", ["line-2", "focus"])
@pytest.mark.parametrize("theme", THEMES)
def test_the_edges_of_controls_and_the_focus_ring_can_be_seen(theme: str, name: str, paper: str):
    assert contrast(THEMES[theme][name], THEMES[theme][paper]) >= NOT_TEXT


@pytest.mark.parametrize("picture", PICTURES)
@pytest.mark.parametrize("theme", THEMES)
def test_an_outline_in_ink_can_be_seen_on_every_fill_of_a_drawing(theme: str, picture: str):
    assert contrast(THEMES[theme]["ink"], THEMES[theme][picture]) >= NOT_TEXT


def test_the_red_theme_has_no_green_and_no_blue():
    for name, colour in THEMES["red"].items():
        assert channels(colour)[1:] == (0, 0), name


def test_no_rule_of_a_page_paints_a_colour_that_is_not_a_token():
    # A file that is taken along holds no theme, so a token may have a colour to fall back on; paper is white.
    painted = re.compile(r"(?<![-\w])[a-z][a-z-]*:\s*[^;{}]*(#[0-9a-fA-F]{3,8}|\brgb\(|\bhsl\()[^;{}]*;")
    for sheet in sorted((paths.STATIC / "css").rglob("*.css")):
        if sheet.name in ("tokens.css", "print.css", "sheet.css"):
            continue
        text = re.sub(r"/\*.*?\*/", "", sheet.read_text(encoding="utf-8"), flags=re.DOTALL)
        text = re.sub(r"@media print\s*\{(?:[^{}]|\{[^}]*\})*\}", "", text)
        text = re.sub(r"var\((--[a-z0-9-]+),\s*#[0-9a-f]{3,6}\)", r"var(\1)", text)
        found = {rule[0] for rule in painted.finditer(text)}
        # The sheet of red over the red theme's page, and a shadow, which the red theme does not have.
        found -= {"background: #ff0000;", "box-shadow: 0 8px 24px rgb(0 0 0 / 0.18);"}
        assert not found, sheet.name


def test_a_dark_device_gets_the_dark_theme_until_one_is_chosen():
    media = re.search(r"@media \(prefers-color-scheme: dark\) \{(.*?)\n\}", SHEET, flags=re.DOTALL)
    assert media is not None
    system = re.search(r'html\[data-theme="system"\] \{([^}]*)\}', media[1])
    assert system is not None
    assert dict(re.findall(r"--([a-z0-9-]+):\s*(#[0-9a-f]{6});", system[1])) == THEMES["dark"]


def test_the_colour_of_a_phones_own_bar_is_the_colour_of_ours():
    base = (paths.TEMPLATES / "base.html").read_text(encoding="utf-8")
    shown = re.findall(r'name="theme-color" content="(#[0-9a-f]{6})"', base)
    assert shown == [THEMES["light"]["paper-3"], THEMES["dark"]["paper-3"], THEMES["red"]["paper"]]
