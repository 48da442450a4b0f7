"""What a browser calls itself, as a person would say it."""

from __future__ import annotations

_BROWSERS = (
    ("Firefox/", "Firefox"),
    ("FxiOS/", "Firefox"),
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("CriOS/", "Chrome"),
    ("Chrome/", "Chrome"),
    ("Safari/", "Safari"),
)
"""The first that stands in the text counts: most name those that they descend from as well."""
_SYSTEMS = (
    ("Android", "Android"),
    ("iPhone", "an iPhone"),
    ("iPad", "an iPad"),
    ("Windows", "Windows"),
    ("CrOS", "ChromeOS"),
    ("Mac OS X", "a Mac"),
    ("Linux", "Linux"),
)
NOT_KNOWN = "a browser"


def browser_words(agent: str) -> str:
    """Return such as "Firefox on Linux". It is what a browser says of itself, which may be anything."""
    browser = next((words for sign, words in _BROWSERS if sign in agent), NOT_KNOWN)
    system = next((words for sign, words in _SYSTEMS if sign in agent), "")
    return f"{browser} on {system}" if system else browser
