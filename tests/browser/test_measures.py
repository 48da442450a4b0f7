"""How long and how wordy the bench is with everything closed, for every rig of the demo club, as a table."""

from __future__ import annotations

from typing import Any

from server.store import open_stores
from tests.browser.conftest import Club, Opener

WIDTHS = {1440: 900, 390: 844}
HIGHEST_PX = {1440: 1800, 390: 4500}
MOST_NODES = 1500
MOST_WORDS = 900

MEASURE = """() => {
  const seen = (it) => it.checkVisibility({ contentVisibilityAuto: true, opacityProperty: false });
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  let words = 0;
  for (let text; (text = walk.nextNode()); ) {
    const it = text.parentElement;
    if (it.closest(".unseen, svg title, svg desc, option, script") || !seen(it)) continue;
    words += (text.data.match(/\\S+/g) ?? []).length;
  }
  const top = (what) => Math.round(document.querySelector(what)?.getBoundingClientRect().bottom ?? 0);
  return {
    height: document.documentElement.scrollHeight,
    nodes: document.querySelectorAll("*").length,
    words,
    answer: top("#answer"),
    section: top(".section-card"),
    run: top("#run"),
  };
}"""


def rigs_of(club: Club) -> list[tuple[int, int, str]]:
    """Every rig of the club: its observer, its number, its name."""
    stores = open_stores(club.database)
    with stores.reading() as store:
        found = [(one.id, rig.id, rig.name) for one in store.observers() for rig in store.rigs(one.id)]
    stores.close()
    return found


def test_every_rig_of_the_club_is_answered_on_one_screen(club: Club, new_context: Opener) -> None:
    lines, beyond = [], []
    for observer, rig, name in rigs_of(club):
        for width, height in WIDTHS.items():
            page = new_context(
                club.address, observer=observer, viewport={"width": width, "height": height}
            ).new_page()
            page.goto(f"/bench/{rig}")
            found: dict[str, Any] = page.evaluate(MEASURE)
            page.close()
            lines.append(
                f"{name[:30]:30} {width:5} {found['height']:6} px {found['nodes']:5} {found['words']:5} "
                f"answer {found['answer']:5} section {found['section']:5} run {found['run']:5}"
            )
            limits = {"height": HIGHEST_PX[width], "nodes": MOST_NODES, "words": MOST_WORDS}
            beyond += [
                (name, width, what, found[what]) for what, most in limits.items() if found[what] > most
            ]
            # The answer and the section within two screens; wide, the section within the first.
            screens = 1 if width == 1440 else 2
            assert found["answer"] < found["section"] <= screens * height, lines[-1]
    print("\n".join(lines))
    assert beyond == []
