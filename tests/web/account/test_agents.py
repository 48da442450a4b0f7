"""What a browser calls itself, in words. The texts are of the browsers' own making (from memory)."""

from __future__ import annotations

import pytest

from server.web.account.agents import browser_words

MOZILLA = "Mozilla/5.0"
WEBKIT = "AppleWebKit/537.36 (KHTML, like Gecko)"


@pytest.mark.parametrize(
    ("agent", "words"),
    [
        (f"{MOZILLA} (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0", "Firefox on Linux"),
        (
            f"{MOZILLA} (Windows NT 10.0; Win64; x64) {WEBKIT} Chrome/126.0.0.0 Safari/537.36",
            "Chrome on Windows",
        ),
        (
            f"{MOZILLA} (Windows NT 10.0; Win64; x64) {WEBKIT} Chrome/126.0.0.0 Safari/537.36 Edg/126.0.0.0",
            "Edge on Windows",
        ),
        (
            f"{MOZILLA} (Linux; Android 14; Pixel) {WEBKIT} Chrome/126.0.0.0 Mobile Safari/537.36",
            "Chrome on Android",
        ),
        (
            f"{MOZILLA} (iPhone; CPU iPhone OS 17_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) "
            "Version/17.5 Mobile/15E148 Safari/604.1",
            "Safari on an iPhone",
        ),
        (
            f"{MOZILLA} (Macintosh; Intel Mac OS X 10_15_7) AppleWebKit/605.1.15 Safari/605.1.15",
            "Safari on a Mac",
        ),
        ("Night browser", "a browser"),
        ("", "a browser"),
        ("<script>alert(1)</script>", "a browser"),
    ],
)
def test_a_browser_is_told_by_its_name_and_system(agent: str, words: str):
    assert browser_words(agent) == words
