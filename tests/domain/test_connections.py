"""What people write for a connection is read, printed back the same, and mated by the trade's rules.

Sources: ISO 68-1:1998 and ISO 965-1 (metric threads: M, diameter, x, pitch); ASME B1.1-2019 (inch threads:
diameter and threads per inch; the C mount's 1-32); NIST SP 811 (2008) appendix B.8 (1 in = 25.4 mm).
The usual sizes of the trade are common practice, no source.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from server.domain.connections import (
    Barrel,
    Bayonet,
    BoltPattern,
    Connection,
    ConnectionTextError,
    Dovetail,
    InchThread,
    MetricThread,
    connection_key,
    gender_of,
    mate,
    opposite,
    print_connection,
    read_connection,
)
from server.rim.phrasebook.tell import sentence_of

T_MALE = MetricThread(diameter_mm=42, pitch_mm=0.75, gender="male")
M48_FEMALE = MetricThread(diameter_mm=48, pitch_mm=0.75, gender="female")

genders = st.sampled_from(["male", "female", None])
lengths = st.none() | st.floats(0.1, 200)
sizes = st.floats(1, 1000)


def _valid_name(text: str) -> bool:
    try:
        Bayonet(name=text)
    except ValidationError:
        return False
    return True


names = st.text(
    st.characters(categories=["Lu", "Ll", "Nd"], include_characters=" .+/&'-"), min_size=1, max_size=30
).filter(_valid_name)
connections = st.one_of(
    st.builds(
        MetricThread,
        diameter_mm=sizes,
        pitch_mm=st.none() | st.floats(0.1, 20),
        gender=genders,
        thread_mm=lengths,
    ),
    st.builds(
        InchThread,
        diameter_in=st.floats(0.05, 40),
        threads_per_inch=st.floats(1, 200),
        gender=genders,
        thread_mm=lengths,
    ),
    st.builds(Barrel, diameter_mm=st.sampled_from([31.75, 50.8]) | sizes, gender=genders, thread_mm=lengths),
    st.builds(Bayonet, name=names, gender=genders),
    st.builds(BoltPattern, name=names, circle_mm=st.none() | sizes),
    st.builds(Dovetail, width_mm=sizes),
)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("M42x0.75 male", T_MALE),
        ("m42 x 0,75 f", MetricThread(diameter_mm=42, pitch_mm=0.75, gender="female")),
        (
            "M48×0.75 (female), 5 mm deep",
            MetricThread(diameter_mm=48, pitch_mm=0.75, gender="female", thread_mm=5),
        ),
        ("M28.5x0.6 m", MetricThread(diameter_mm=28.5, pitch_mm=0.6, gender="male")),
        ("M57", MetricThread(diameter_mm=57)),
        ("M42x.75 male", T_MALE),
        ("male M42x0.75", T_MALE),
        ("male, M42x0.75 male", T_MALE),
        ("M42x0.75 male.", T_MALE),
        (
            "external M42x0.75, 5 mm long.",
            MetricThread(diameter_mm=42, pitch_mm=0.75, gender="male", thread_mm=5),
        ),
        # The thread at the back of Schmidt-Cassegrain tubes (common practice, no source).
        ("SCT", InchThread(diameter_in=2, threads_per_inch=24)),
        ("SCT thread female", InchThread(diameter_in=2, threads_per_inch=24, gender="female")),
        ("female Alpine bayonet", Bayonet(name="Alpine", gender="female")),
        ("bayonet Alp.", Bayonet(name="Alp.")),
        ("M 68 x 1 mm male thread", MetricThread(diameter_mm=68, pitch_mm=1, gender="male")),
        ("M42x0.75m", T_MALE),
        ("T2", MetricThread(diameter_mm=42, pitch_mm=0.75)),
        ("T thread female", MetricThread(diameter_mm=42, pitch_mm=0.75, gender="female")),
        ("T-mount (male)", T_MALE),
        ('2"-24 female', InchThread(diameter_in=2, threads_per_inch=24, gender="female")),
        ("2 in - 24 f", InchThread(diameter_in=2, threads_per_inch=24, gender="female")),
        ("2″–24", InchThread(diameter_in=2, threads_per_inch=24)),
        ('3.25"-16 m', InchThread(diameter_in=3.25, threads_per_inch=16, gender="male")),
        ('1"-32', InchThread(diameter_in=1, threads_per_inch=32)),
        ("C mount", InchThread(diameter_in=1, threads_per_inch=32)),
        ("c-mount, male", InchThread(diameter_in=1, threads_per_inch=32, gender="male")),
        # ASME B1.1 writes the coarse series with UNC after the threads per inch; it adds nothing to the size.
        ("1/4-20 UNC female", InchThread(diameter_in=0.25, threads_per_inch=20, gender="female")),
        ("1/4-20 female", InchThread(diameter_in=0.25, threads_per_inch=20, gender="female")),
        ("1.25 in barrel male", Barrel(diameter_mm=31.75, gender="male")),
        ("1 1/4 in barrel, male", Barrel(diameter_mm=31.75, gender="male")),
        ('2" nosepiece', Barrel(diameter_mm=50.8, gender="male")),
        ('1.25" holder', Barrel(diameter_mm=31.75, gender="female")),
        ("2 inch eyepiece holder", Barrel(diameter_mm=50.8, gender="female")),
        ("2'' socket, 40 mm deep", Barrel(diameter_mm=50.8, gender="female", thread_mm=40)),
        ("24.5 mm barrel", Barrel(diameter_mm=24.5)),
        ("bayonet Alpine female", Bayonet(name="Alpine", gender="female")),
        ("Alpine bayonet", Bayonet(name="Alpine")),
        ("bolts Hex6 on 62 mm", BoltPattern(name="Hex6", circle_mm=62)),
        ("bolts Hex6", BoltPattern(name="Hex6")),
        ("dovetail 44 mm", Dovetail(width_mm=44)),
        ("narrow dovetail", Dovetail(width_mm=44)),
        ("Wide Dovetail", Dovetail(width_mm=75)),
    ],
)
def test_what_the_trade_writes_is_read(text: str, expected: Connection) -> None:
    assert read_connection(text) == expected


@pytest.mark.parametrize(
    ("text", "part_of_message"),
    [
        ("", "No connection was typed"),
        ("   ", "No connection was typed"),
        ("2 in", "barrel or a thread"),
        ("48 mm", "bare size"),
        ("2-24 female", 'Type it like 2"-24'),
        ("M42x", "M, its diameter, x and its pitch"),
        ("M42x0.75x1", "M, its diameter, x and its pitch"),
        ("M42x0.75 male female", "M, its diameter"),
        ("M48x0.75,5 mm deep", "not taken"),
        ("M0x1", "diameter cannot be right. “0” is not allowed: it has to be at least 1"),
        ("male M48x0.75 female", "it says male and female"),
        ("SCT barrel", "a barrel needs its size"),
        ("2 in nosepiece female", "a nosepiece is male"),
        ("dovetail 44 mm male", "no gender"),
        ("bolts Hex6 on 62 mm, 5 mm deep", "have a length"),
        ("bayonet", "needs its name"),
        ("1/0 in barrel", "0 below its line"),
        ("barrel", "needs its size"),
        ("something else", "no thread, barrel"),
    ],
)
def test_what_is_not_sure_is_refused_with_a_sentence(text: str, part_of_message: str) -> None:
    with pytest.raises(ConnectionTextError) as refused:
        read_connection(text)
    message = str(refused.value)
    assert part_of_message in message
    assert "Type it like" in message
    assert " ".join(text.split()) in message


def test_over_long_text_is_refused() -> None:
    with pytest.raises(ConnectionTextError, match="at most 80 characters"):
        read_connection("M42x0.75 male" + " " * 80)


@pytest.mark.parametrize(
    ("connection", "text"),
    [
        (T_MALE, "M42x0.75 male"),
        (
            MetricThread(diameter_mm=48, pitch_mm=0.75, gender="female", thread_mm=5),
            "M48x0.75 female, 5 mm deep",
        ),
        (MetricThread(diameter_mm=57), "M57"),
        (InchThread(diameter_in=2, threads_per_inch=24, gender="female"), '2"-24 female'),
        (Barrel(diameter_mm=50.8, gender="male"), "2 in barrel, male"),
        (BoltPattern(name="Hex6", circle_mm=62), "bolts Hex6 on 62 mm"),
        (Dovetail(width_mm=44), "dovetail 44 mm"),
    ],
)
def test_the_canonical_text_is_as_the_trade_writes_it(connection: Connection, text: str) -> None:
    assert print_connection(connection) == text


@given(connections)
def test_every_connection_is_read_back_from_its_text(connection: Connection) -> None:
    assert read_connection(print_connection(connection)) == connection


@given(connections)
def test_every_connection_comes_back_from_json_and_can_be_a_key_of_a_dictionary(
    connection: Connection,
) -> None:
    adapter: TypeAdapter[Connection] = TypeAdapter(Connection)
    again = adapter.validate_json(adapter.dump_json(connection))
    assert {connection: 1}[again] == 1


FUZZ_WORDS = [
    "M",
    "42",
    "0.75",
    "x",
    "×",
    '"',
    "in",
    "-",
    "24",
    "/",
    "0",
    "bayonet",
    "bolts",
    "on",
    "mm",
    "deep",
    ",",
    "male",
    "f",
    "(",
    ")",
    "barrel",
    "dovetail",
    "wide",
    "ß",
    "İ",
    "1 1/4",
    "٣",
    "²",
    "thread",
    "length",
]
fuzz_pieces = st.lists(st.sampled_from(FUZZ_WORDS), max_size=9).map(" ".join)


@given(st.text(max_size=90) | fuzz_pieces)
def test_any_text_is_read_or_refused_and_nothing_else_happens(text: str) -> None:
    try:
        connection = read_connection(text)
    except ConnectionTextError:
        return
    assert read_connection(print_connection(connection)) == connection


@given(connections, connections)
def test_keys_are_equal_exactly_where_thread_and_gender_are(a: Connection, b: Connection) -> None:
    same = (
        type(a) is type(b) and print_connection(_bare(a)).casefold() == print_connection(_bare(b)).casefold()
    )
    assert (connection_key(a) == connection_key(b)) == same


def _bare(connection: Connection) -> Connection:
    if isinstance(connection, MetricThread | InchThread | Barrel):
        return connection.model_copy(update={"thread_mm": None})
    return connection


def test_a_key_can_leave_the_gender_out() -> None:
    assert connection_key(T_MALE) == "M42x0.75:m"
    assert connection_key(T_MALE, with_gender=False) == "M42x0.75"
    assert connection_key(MetricThread(diameter_mm=57)) == "M57x?:?"


def test_a_size_reached_through_inches_is_the_same_size_as_in_millimetres() -> None:
    # NIST SP 811 (2008), appendix B.8: 1 in = 25.4 mm exactly.
    assert read_connection('1.25" nosepiece') == read_connection("31.75 mm barrel male")


@given(connections)
def test_the_opposite_of_a_full_connection_holds_on_it_and_its_opposite_is_itself(
    connection: Connection,
) -> None:
    assert opposite(opposite(connection)) == _bare(connection)
    joint = mate(_bare(connection), opposite(connection))
    unknown = (
        (not isinstance(connection, BoltPattern | Dovetail) and gender_of(connection) is None)
        or (isinstance(connection, MetricThread) and connection.pitch_mm is None)
        or (isinstance(connection, BoltPattern) and connection.circle_mm is None)
    )
    assert joint.verdict == ("unknown" if unknown else "watch" if isinstance(connection, Barrel) else "mates")


@given(connections, connections)
def test_a_joint_turned_round_gets_the_same_verdict(a: Connection, b: Connection) -> None:
    assert mate(a, b).verdict == mate(b, a).verdict


@pytest.mark.parametrize(
    ("camera_side", "sky_side", "verdict", "part_of_sentence"),
    [
        ("M42x0.75 male", "M42x0.75 female", "mates", "mates"),
        ("M42x0.75 male", "M42x0.75 male", "wrong_gender", "gender changer"),
        ("M48x0.75 female", "M48x0.75 female", "wrong_gender", "gender changer"),
        ("M42x0.75 male", "M42x1 female", "wrong_size", "look alike: they start, jam"),
        ("M42x1 male", "T2 male", "wrong_size", "look alike"),
        ("M48x0.75 male", "M48x0.6 female", "wrong_size", "filter threads"),
        ("M56x1 male", "M56x0.75 female", "wrong_size", "another pitch: they never mate"),
        ("M48x0.75 male", "M54x0.75 female", "wrong_size", "diameter"),
        ("M57 male", "M57x1 female", "unknown", "enter it"),
        ("M42x0.75", "M42x0.75 female", "unknown", "part nearer the sky"),
        ("M42x0.75 male", "M42x0.75", "unknown", "part nearer the camera"),
        ("M42x0.75", "M42x0.75", "unknown", "neither side"),
        ('2"-24 male', '2"-24 female', "mates", "mates"),
        ('2"-24 male', '2"-32 female', "wrong_size", "threads per inch"),
        ("C mount male", "CS mount female", "mates", "mates"),
        ("M42x0.75 male", '1"-32 female', "wrong_kind", "adapter"),
        ("2 in holder", "2 in nosepiece", "watch", "push-fit"),
        ("2 in holder", "1.25 in nosepiece", "wrong_size", "sleeve"),
        ("2 in nosepiece", "2 in nosepiece", "wrong_gender", "gender changer"),
        ("bayonet Alpine male", "bayonet ALPINE female", "mates", "mates"),
        ("bayonet Alpine male", "bayonet Boreal female", "wrong_kind", "adapter"),
        ("bolts Hex6 on 62 mm", "bolts hex6 on 62 mm", "mates", "holes meet"),
        ("bolts Hex6 on 62 mm", "bolts Hex6 on 70 mm", "wrong_size", "62 mm and 70 mm"),
        ("bolts Hex6 on 62 mm", "bolts Tri3 on 62 mm", "wrong_kind", "adapter plate"),
        ("bolts Hex6 on 62 mm", "bolts Hex6", "unknown", "enter it"),
        ("narrow dovetail", "dovetail 43.5 mm", "mates", "not on the optical path"),
        ("narrow dovetail", "wide dovetail", "wrong_size", "44 mm and 75 mm"),
        ("M48x0.75 male, 7 mm long", "M48x0.75 female, 5 mm deep", "watch", "2 mm apart"),
        ("M48x0.75 male, 4 mm long", "M48x0.75 female, 5 mm deep", "mates", "mates"),
        ("M68x1 male, 2 mm long", "M68x1 female, 5 mm deep", "watch", "2.0 turns"),
    ],
)
def test_joints_are_judged_by_the_rules_of_the_trade(
    camera_side: str, sky_side: str, verdict: str, part_of_sentence: str
) -> None:
    joint = mate(read_connection(camera_side), read_connection(sky_side))
    assert joint.verdict == verdict
    assert part_of_sentence in sentence_of(joint.says, "metric")
    assert sentence_of(joint.why, "metric")
    assert joint.holds == (verdict in ("mates", "watch"))


@pytest.mark.parametrize(("a", "b"), [(None, None), (None, T_MALE), (M48_FEMALE, None)])
def test_a_connection_not_entered_leaves_the_joint_unknown(
    a: Connection | None, b: Connection | None
) -> None:
    joint = mate(a, b)
    assert joint.verdict == "unknown"
    assert "enter" in sentence_of(joint.says, "metric")


@pytest.mark.parametrize(
    "named",
    [Bayonet(name="Q0M"), Bayonet(name="K7f", gender="male"), BoltPattern(name="Hex6F", circle_mm=62)],
)
def test_a_name_that_ends_like_a_gender_behind_a_digit_reads_back_whole(named: Connection) -> None:
    assert read_connection(print_connection(named)) == named


@pytest.mark.parametrize(
    ("camera_side", "sky_side", "word"),
    [
        ("M42x0.75 male", "M42x1 female", "wrong_pitch"),
        ("M56x1 male", "M56x0.75 female", "wrong_pitch"),
        ("M48x0.75 male", "M54x0.75 female", "wrong_size"),
        ("M48x0.75 male", "M48x0.75 female", "mates"),
    ],
)
def test_threads_of_one_diameter_that_differ_in_pitch_are_no_wrong_size(
    camera_side: str, sky_side: str, word: str
) -> None:
    assert mate(read_connection(camera_side), read_connection(sky_side)).in_a_word == word
