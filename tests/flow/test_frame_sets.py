"""Sets of frames on their way: handed in, bounded, looked at, measured by a process of its own, dropped.

Source: none needed: the rules are the sets' own.
"""

from __future__ import annotations

import io
import os
import re
import shutil
import sys
import time
from pathlib import Path

import pytest

from server.domain.errors import FieldErrors, NotFoundError
from server.domain.frames.asked import FrameAsked, SetAsked
from server.domain.frames.measured import MOST_FRAMES
from server.flow import frame_process, frame_sets
from server.flow.frame_sets import KEPT_S, MEGABYTE, MOST_SETS, FrameSets, SetDraft
from tests import own_frames

ANA, BO, RIG = 1, 2, 7


@pytest.fixture
def sets(tmp_path: Path) -> FrameSets:
    return FrameSets(tmp_path / "data" / "frames")


def handed_in(sets: FrameSets, files: dict[str, bytes]) -> tuple[str, SetDraft]:
    token = sets.begin(ANA, RIG)
    draft = sets.draft(token, ANA)
    for name, content in files.items():
        draft = sets.add_file(token, draft, name, io.BytesIO(content))
    return token, draft


def asked_of(draft: SetDraft) -> SetAsked:
    """Measure all, at the positions where `own_frames.pair` takes them."""
    return SetAsked(
        frames=tuple(
            FrameAsked(file=one.stored, name=one.name, focuser=180.0 if one.name == "out.fits" else -180.0)
            for one in draft.files
        ),
        light=own_frames.LIGHT,
        step_um=own_frames.STEP_UM,
    )


def ended(sets: FrameSets, token: str) -> str:
    """The stage when nothing is waited for any more."""
    for _ in range(600):
        stage = sets.stage(token)[0]
        if stage not in ("waiting", "measuring"):
            return stage
        time.sleep(0.05)
    raise AssertionError("the set was not measured within half a minute")


def sentence_of(sets: FrameSets, token: str) -> str:
    failed = sets.failed(token)
    assert failed is not None
    return failed.sentence


def test_frames_go_the_whole_way_by_a_process_of_their_own(sets: FrameSets):
    token, draft = handed_in(sets, own_frames.pair())
    assert sets.stage(token) == ("draft", 0.0)
    looked = sets.look(token)
    assert [(one.name, one.kind, one.width_px, one.focuser) for one in looked.files] == [
        ("out.fits", "FITS", 600, 10_180.0),
        ("in.fits", "FITS", 600, 9_820.0),
    ]
    sets.start(token, looked, asked_of(draft))
    assert ended(sets, token) == "done"
    done = sets.done(token)
    assert done is not None
    assert done.surface is not None
    # A gaussian spot answers a little less than the disc that the measuring takes it for.
    assert done.surface.tilt.real == pytest.approx(30.0, rel=0.3)
    assert sets.failed(token) is None
    sets.drop(token)
    with pytest.raises(NotFoundError):
        sets.draft(token, ANA)
    assert list(sets.root.iterdir()) == []


def test_the_set_of_another_observer_and_a_made_up_one_are_not_found(sets: FrameSets):
    token, _ = handed_in(sets, {})
    for name, observer in ((token, BO), ("nothing", ANA), (f"../frames/{token}", ANA), ("", ANA), (".", ANA)):
        with pytest.raises(NotFoundError):
            sets.draft(name, observer)


@pytest.mark.parametrize(
    ("sent", "kept"),
    [
        ("night/light 1.fits", "light 1.fits"),
        ("C:\\frames\\a.fits", "a.fits"),
        ("../../set.json", "set.json"),
        ("", "frame"),
    ],
)
def test_a_file_keeps_its_name_and_never_chooses_its_place(sets: FrameSets, sent: str, kept: str):
    token, draft = handed_in(sets, {sent: b"x"})
    (file,) = draft.files
    assert file.name == kept
    assert Path(file.stored).parent == sets.root / token
    assert re.fullmatch("frame-[0-9a-f]{16}", Path(file.stored).name)


def test_a_file_that_is_too_large_is_refused_and_not_kept(tmp_path: Path):
    sets = FrameSets(tmp_path, megabytes=2)
    token, draft = handed_in(sets, {"fits.fits": bytes(2 * MEGABYTE)})
    with pytest.raises(FieldErrors, match=r"more\.fits is larger than 2 MB"):
        sets.add_file(token, draft, "more.fits", io.BytesIO(bytes(2 * MEGABYTE + 1)))
    assert [one.name for one in sets.draft(token, ANA).files] == ["fits.fits"]
    assert not (sets.root / token / "frame-1").exists()


def test_a_set_holds_so_many_frames_and_of_too_many_sets_the_oldest_goes(sets: FrameSets):
    token, draft = handed_in(sets, {f"{number}.fits": b"x" for number in range(MOST_FRAMES)})
    with pytest.raises(FieldErrors, match="at most"):
        sets.add_file(token, draft, "one more.fits", io.BytesIO(b"x"))
    others = sets.begin(BO, RIG)
    long_ago = time.time() - 60.0
    os.utime(sets.root / token, (long_ago, long_ago))
    later = [sets.begin(ANA, RIG) for _ in range(MOST_SETS)]
    assert {one for one, _ in sets.begun(ANA)} == set(later)
    assert sets.draft(others, BO).observer_id == BO


def test_sets_are_swept_away_after_a_day(sets: FrameSets):
    old, _ = handed_in(sets, {"a.fits": b"x"})
    young, _ = handed_in(sets, {"a.fits": b"x"})
    long_ago = time.time() - KEPT_S - 60.0
    os.utime(sets.root / old, (long_ago, long_ago))
    sets.begin(BO, RIG)
    with pytest.raises(NotFoundError):
        sets.draft(old, ANA)
    assert sets.draft(young, ANA).files


# -- A folder on this machine


def named(allowed: Path | None, folder: str, tmp_path: Path) -> list[str]:
    sets = FrameSets(tmp_path / "data", allowed)
    token = sets.begin(ANA, RIG)
    return [one.stored for one in sets.add_named(token, sets.draft(token, ANA), folder).files]


@pytest.fixture
def allowed(tmp_path: Path) -> Path:
    """An allowed folder with one of frames in it, and frames beside it that are none of its own."""
    for place in ("mine/night", "mine/empty", "other"):
        (tmp_path / place).mkdir(parents=True)
    for file in ("mine/night/b.fits", "mine/night/a.FIT", "mine/night/notes.txt", "other/secret.fits"):
        (tmp_path / file).write_bytes(b"x")
    return tmp_path / "mine"


@pytest.mark.parametrize("folder", ["night", "./night/", "empty/../night"])
def test_a_folder_below_the_allowed_one_is_named_and_its_files_stay(
    allowed: Path, tmp_path: Path, folder: str
):
    night = allowed / "night"
    assert named(allowed, folder, tmp_path) == [str(night / "a.FIT"), str(night / "b.fits")]
    sets = FrameSets(tmp_path / "data", allowed)
    token = sets.begin(ANA, RIG)
    sets.add_named(token, sets.draft(token, ANA), folder)
    sets.drop(token)
    assert (night / "b.fits").is_file()


@pytest.mark.parametrize("folder", ["..", "../other", "night/../../other", "/", "link"])
def test_no_folder_beside_the_allowed_one_is_named(allowed: Path, tmp_path: Path, folder: str):
    (allowed / "link").symlink_to(tmp_path / "other")
    with pytest.raises(FieldErrors, match="Only folders below"):
        named(allowed, folder, tmp_path)
    with pytest.raises(FieldErrors, match="Only folders below"):
        named(allowed, str(tmp_path / "other"), tmp_path)


def test_a_link_to_a_file_beside_the_allowed_folder_is_passed_over(allowed: Path, tmp_path: Path):
    (allowed / "night" / "c.fits").symlink_to(tmp_path / "other" / "secret.fits")
    assert [Path(one).name for one in named(allowed, "night", tmp_path)] == ["a.FIT", "b.fits"]


def test_a_folder_that_gives_no_set_is_told(allowed: Path, tmp_path: Path):
    with pytest.raises(FieldErrors, match="--frames"):
        named(None, "night", tmp_path)
    with pytest.raises(FieldErrors, match="There is no folder"):
        named(allowed, "day", tmp_path)
    with pytest.raises(FieldErrors, match="No FITS"):
        named(allowed, "empty", tmp_path)
    for number in range(MOST_FRAMES):
        (allowed / "night" / f"{number}.png").write_bytes(b"x")
    with pytest.raises(FieldErrors, match="14 frames lie there"):
        named(allowed, "night", tmp_path)


# -- What goes wrong


def test_a_file_that_is_no_picture_says_so_and_the_others_are_looked_at(sets: FrameSets):
    token, _ = handed_in(sets, {"a.fits": b"no picture", "out.fits": own_frames.frame(90.0)})
    bad, good = sets.look(token).files
    assert sets.draft(token, ANA).files == (bad, good)
    assert bad.trouble
    assert (good.trouble, good.width_px) == ("", own_frames.WIDTH)


def test_frames_of_two_sizes_fail_by_name(sets: FrameSets):
    small = own_frames.fits(own_frames.picture(-90.0)[:, :500])
    token, draft = handed_in(sets, {"out.fits": own_frames.frame(90.0), "part.fits": small})
    write_asked(sets, token, draft)
    frame_process.measure(sets.root / token)
    failed = sets.failed(token)
    assert failed is not None
    assert failed.name == "part.fits"
    assert "500 x 400" in failed.sentence


def write_asked(sets: FrameSets, token: str, draft: SetDraft) -> None:
    """Ask for a set to be measured, without anybody who begins."""
    asked = draft.model_copy(update={"asked": asked_of(draft)})
    frame_sets.write_whole(sets.root / token / "set.json", asked.model_dump_json())


def test_a_stop_is_heard_and_the_files_stay(sets: FrameSets):
    token, draft = handed_in(sets, own_frames.pair())
    write_asked(sets, token, draft)
    sets.stop(token)
    frame_process.measure(sets.root / token)
    assert sets.stage(token)[0] == "failed"
    assert sentence_of(sets, token) == "Stopped."
    sets.start(token, draft, asked_of(draft))
    assert ended(sets, token) == "done"


def test_a_set_waits_for_its_turn_and_is_stopped_before_it_begins(sets: FrameSets):
    token, draft = handed_in(sets, own_frames.pair())
    with frame_sets._turns:
        sets.start(token, draft, asked_of(draft))
        assert sets.stage(token) == ("waiting", 0.0)
        sets.stop(token)
    assert ended(sets, token) == "failed"
    assert "before it began" in sentence_of(sets, token)


@pytest.mark.parametrize(
    ("last_words", "told"), [("", "broke off"), ("MemoryError", "more memory than it is given")]
)
def test_a_process_that_dies_is_told_and_nothing_hangs(
    sets: FrameSets, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, last_words: str, told: str
):
    dying = tmp_path / "dying"
    dying.write_text(f"#!{shutil.which('sh')}\necho {last_words} >&2\nexit 1\n", encoding="utf-8")
    dying.chmod(0o755)
    token, draft = handed_in(sets, own_frames.pair())
    monkeypatch.setattr(sys, "executable", str(dying))
    sets.start(token, draft, asked_of(draft))
    assert ended(sets, token) == "failed"
    assert told in sentence_of(sets, token)


def test_a_set_that_is_dropped_while_it_is_measured_leaves_nothing(sets: FrameSets):
    token, draft = handed_in(sets, own_frames.pair())
    sets.start(token, draft, asked_of(draft))
    sets.drop(token)
    with frame_sets._turns:
        pass
    assert list(sets.root.iterdir()) == []


# -- Two tabs, a restart


def test_two_tabs_that_add_files_lose_none(sets: FrameSets):
    token, draft = handed_in(sets, {"a.fits": b"x"})
    for name in ("b.fits", "c.fits"):
        # Each tab still has the set as it was.
        sets.add_file(token, draft, name, io.BytesIO(b"x"))
    files = sets.draft(token, ANA).files
    assert [one.name for one in files] == ["a.fits", "b.fits", "c.fits"]
    assert len({one.stored for one in files}) == 3


def test_a_set_of_which_nothing_is_heard_any_more_has_broken_off(sets: FrameSets):
    token, _ = handed_in(sets, {"a.fits": b"x"})
    progress = sets.root / token / "progress"
    progress.write_text("0.4")
    assert sets.stage(token) == ("measuring", 0.4)
    long_ago = time.time() - 3600.0
    os.utime(progress, (long_ago, long_ago))
    assert sets.stage(token)[0] == "failed"
    failed = sets.failed(token)
    assert failed is not None
    assert "broke off" in failed.sentence


@pytest.mark.parametrize("folder", ["\0", "x" * 5000])
def test_what_is_no_folders_name_is_told_at_its_field(tmp_path: Path, folder: str):
    with pytest.raises(FieldErrors) as refused:
        named(tmp_path, folder, tmp_path)
    assert list(refused.value.errors) == ["folder"]
