"""The numbered rules of `candidates.py`, and every permutation of a device's registers.

How a device lays out its registers is written here from the types' own definitions (two's
complement; IEEE 754-2008 binary32 by `struct`), never by our decoder.
"""

import random
import struct
from collections import Counter
from itertools import product

import pytest

from monitor.base.errors import WrongUse
from monitor.setup.commission.candidates import (
    FUNCTIONS,
    OFFSETS,
    Facts,
    Pair,
    Setting,
    plausible,
    search,
    table,
)
from monitor.setup.commission.errors import Ambiguous, NotCommissioned
from monitor.setup.commission.panel import Shown, read_shown

KINDS = {"int16": ">h", "uint16": ">H", "int32": ">i", "uint32": ">I", "float32": ">f"}
ORDERS = {"ABCD": (0, 1, 2, 3), "CDAB": (2, 3, 0, 1), "BADC": (1, 0, 3, 2), "DCBA": (3, 2, 1, 0)}
POINTS = (("12.04", "5.37"), ("7.51", "3.18"))
ADDRESSES = {"volts": 100, "amps": 104}
RATED = {"volts": 15.0, "amps": 20.0}


def words_of(value: float, kind: str, order: str, scale: float) -> tuple[int, ...]:
    """The registers in which a device keeps a value."""
    raw = value / scale
    data = struct.pack(KINDS[kind], raw if kind == "float32" else round(raw))
    if len(data) == 2:
        data = data[::-1] if order in ("BADC", "DCBA") else data
    else:
        data = bytes(data[place] for place in ORDERS[order])
    return struct.unpack(f">{len(data) // 2}H", data)


def device(
    kind: str,
    order: str,
    scale: float,
    offset: int,
    function: int,
    rng: random.Random,
    points: tuple[tuple[str, str], ...] = POINTS,
    addresses: dict[str, int] = ADDRESSES,
) -> list[Setting]:
    """What a block read brings at each setting; the registers that mean nothing stay the same."""
    first, count = min(addresses.values()) - 1, 9
    rest = {f: [rng.randrange(0x10000) for _ in range(count)] for f in FUNCTIONS}
    settings = []
    for volts, amps in points:
        shown = {"volts": read_shown(volts), "amps": read_shown(amps)}
        blocks = []
        for each in FUNCTIONS:
            values = list(rest[each])
            for name, number in shown.items():
                if each != function:
                    continue
                # A meter's last digit is not the panel's.
                exact = number.value * (1 + rng.uniform(-0.002, 0.002))
                place = addresses[name] + offset - first
                laid = words_of(exact, kind, order, scale)
                values[place : place + len(laid)] = laid
            blocks.append((each, first, tuple(values)))
        settings.append(Setting(shown, tuple(blocks)))
    return settings


PERMUTATIONS = [
    (kind, order, offset, function)
    for kind, order, offset, function in product(KINDS, ORDERS, OFFSETS, FUNCTIONS)
    if kind.endswith("32") or order in ("ABCD", "BADC")
]


def is_right(pair: Pair, kind: str, order: str, scale: float, offset: int, function: int) -> bool:
    expected = (offset, function, order, scale)
    unsigned = kind.replace("int", "uint").replace("uuint", "uint")
    return all(
        (way.offset, way.function, way.order, way.scale) == expected
        and way.kind in (kind, unsigned)
        for way in (pair.volts, pair.amps)
    )


@pytest.mark.parametrize(("kind", "order", "offset", "function"), PERMUTATIONS)
def test_every_permutation_is_found_or_refused(
    kind: str, order: str, offset: int, function: int
) -> None:
    rng = random.Random(f"{kind} {order} {offset} {function}")
    for scale in (1.0,) if kind == "float32" else (0.01, 0.001):
        settings = device(kind, order, scale, offset, function, rng)
        try:
            pair = search(settings, ADDRESSES, RATED)
        except Ambiguous:
            pair = search(settings, ADDRESSES, RATED, Facts(function, kind, order, offset))  # type: ignore[arg-type]  # names of the table above
        assert is_right(pair, kind, order, scale, offset, function), pair.words


def test_a_wrong_one_is_never_picked_and_single_registers_need_no_manual() -> None:
    """Two registers often need a word: a float's first half alone is right within 1 %."""
    outcomes: Counter[str] = Counter()
    single: Counter[str] = Counter()
    for seed in range(300):
        rng = random.Random(seed)
        kind, order, offset, function = rng.choice(PERMUTATIONS)
        scale = 1.0 if kind == "float32" else rng.choice((0.01, 0.001))
        points = (
            (f"{rng.uniform(9, 12):.2f}", f"{rng.uniform(4, 8):.2f}"),
            (f"{rng.uniform(4, 7):.2f}", f"{rng.uniform(1, 3):.2f}"),
        )
        settings = device(kind, order, scale, offset, function, rng, points)
        try:
            pair = search(settings, ADDRESSES, RATED)
        except Ambiguous:
            outcome = "ambiguous"
        except NotCommissioned:
            outcome = "nothing"
        else:
            right = is_right(pair, kind, order, scale, offset, function)
            outcome = "right" if right else "wrong"
        outcomes[outcome] += 1
        single[outcome] += kind.endswith("16")
    assert outcomes["wrong"] == 0
    assert outcomes["nothing"] == 0
    assert outcomes["right"] > 100, outcomes
    assert single["right"] > 0.95 * sum(single.values()), single


def simple(points: tuple[tuple[str, str], ...] = POINTS, **words: int) -> list[Setting]:
    """A plain device: hundredths in uint16, function 3, as the manual says; constants around."""
    settings = []
    for volts, amps in points:
        shown = {"volts": read_shown(volts), "amps": read_shown(amps)}
        values = [words.get(f"at_{place}", 40_000 + 7 * place) for place in range(99, 108)]
        values[1] = round(shown["volts"].value * 100)
        values[5] = round(shown["amps"].value * 100)
        settings.append(Setting(shown, ((3, 99, tuple(values)),)))
    return settings


def test_one_setting_alone_is_refused_and_says_how_many_agree() -> None:
    with pytest.raises(Ambiguous, match="one setting alone proves nothing: 1 ways"):
        search(simple()[:1], ADDRESSES, RATED)


def test_two_that_agree_within_five_percent_at_one_setting_need_the_second() -> None:
    """The next register holds a constant that is 4 % off at the first setting only."""
    settings = simple(at_101=round(1204 * 1.04), at_105=round(537 * 1.04))
    assert len(plausible(settings[:1], ADDRESSES, RATED)) == 2
    pair = search(settings, ADDRESSES, RATED)
    assert (pair.volts.offset, pair.amps.offset) == (0, 0)


def test_a_register_that_follows_the_volts_everywhere_is_ambiguous() -> None:
    """The set value beside the measured one: both are what the panel shows."""
    settings = []
    for setting in simple():
        values = list(setting.blocks[0][2])
        values[2], values[6] = values[1] + 1, values[5] + 1
        settings.append(Setting(setting.shown, ((3, 99, tuple(values)),)))
    with pytest.raises(Ambiguous, match="--offset"):
        search(settings, ADDRESSES, RATED)
    assert search(settings, ADDRESSES, RATED, Facts(offset=0)).volts.address == 100


def test_signed_and_unsigned_need_the_ratings_or_the_manual() -> None:
    with pytest.raises(Ambiguous, match="--type or the ratings"):
        search(simple(), ADDRESSES, {})
    assert search(simple(), ADDRESSES, RATED).volts.kind == "uint16"
    assert search(simple(), ADDRESSES, {}, Facts(kind="int16")).volts.kind == "int16"


def test_ratings_beyond_the_sign_do_not_settle_it() -> None:
    with pytest.raises(Ambiguous):
        search(simple(), ADDRESSES, {"volts": 300.0, "amps": 20.0})
    # Rule 8: a signed register could not hold 400 V.
    pair = search(simple(), ADDRESSES, {"volts": 400.0, "amps": 20.0})
    assert pair.volts.kind == "uint16"


def test_registers_that_both_functions_give_are_one() -> None:
    settings = [Setting(one.shown, (*one.blocks, (4, *one.blocks[0][1:]))) for one in simple()]
    assert search(settings, ADDRESSES, RATED).volts.function == 3
    assert search(settings, ADDRESSES, RATED, Facts(function=4)).volts.function == 4


@pytest.mark.parametrize(
    ("points", "says"),
    [
        ((("12.04", "5.37"), ("11.80", "3.18")), "too close together in volts"),
        ((("12.04", "5.37"), ("7.51", "5.20")), "too close together in amps"),
        ((("12.04", "0.00"), ("7.51", "0.00")), "showed no amps"),
    ],
)
def test_settings_that_prove_nothing_are_refused(
    points: tuple[tuple[str, str], ...], says: str
) -> None:
    with pytest.raises(NotCommissioned, match=says):
        search(simple(points), ADDRESSES, RATED)


def test_what_is_only_near_is_refused() -> None:
    settings = [
        Setting({**one.shown, "volts": Shown(one.shown["volts"].value * 1.03, 0.01)}, one.blocks)
        for one in simple()
    ]
    with pytest.raises(NotCommissioned, match="does not fit"):
        search(settings, ADDRESSES, RATED)


def test_nothing_that_fits_is_told() -> None:
    with pytest.raises(NotCommissioned, match="no way of reading"):
        search(simple(), {"volts": 104, "amps": 100}, RATED)


def test_a_value_is_never_put_together_from_two_requests() -> None:
    settings = []
    for volts, amps in POINTS:
        shown = {"volts": read_shown(volts), "amps": read_shown(amps)}
        words = [
            (place, word)
            for name, address in ADDRESSES.items()
            for place, word in enumerate(words_of(shown[name].value, "float32", "ABCD", 1), address)
        ]
        settings.append(Setting(shown, tuple((3, place, (word,)) for place, word in words)))
    with pytest.raises(NotCommissioned, match="no way of reading"):
        search(settings, ADDRESSES, RATED)


def test_both_ways_of_counting_are_told_everywhere() -> None:
    pair = search(simple(), ADDRESSES, RATED)
    assert "wire address 100 (manual 40101)" in pair.words
    lines = table(simple(), 100, "volts", Facts())
    assert any("wire address 100 (manual 40101), uint16" in line for line in lines)
    assert all("fits" in line or "fit all" in line for line in lines)


def test_numbers_are_read_as_the_panel_shows_them() -> None:
    assert read_shown(" 5,0 A") == Shown(5.0, 0.1)
    assert read_shown("12") == Shown(12.0, 1.0)
    for wrong in ("", "-5", "1.2.3", "about 5", "1e3"):
        with pytest.raises(WrongUse):
            read_shown(wrong)


def mixed(amps_kind: str, amps_order: str, points: tuple[tuple[str, str], ...]) -> list[Setting]:
    """Volts in one register, hundredths; amps behind it, thousandths in a form of their own."""
    settings = []
    for volts, amps in points:
        shown = {"volts": read_shown(volts), "amps": read_shown(amps)}
        laid = (
            *words_of(shown["volts"].value, "uint16", "ABCD", 0.01),
            *words_of(shown["amps"].value, amps_kind, amps_order, 0.001),
            *(0, 0, 0),
        )
        settings.append(Setting(shown, ((3, 100, laid), (4, 100, (0,) * len(laid)))))
    return settings


BEHIND = {"volts": 100, "amps": 101}
LARGE = {"volts": 15.0, "amps": 100.0}


@pytest.mark.parametrize("order", ["ABCD", "CDAB"])
def test_rule_7_volts_and_amps_may_be_of_two_types(order: str) -> None:
    settings = mixed("uint32", order, POINTS)
    with pytest.raises(Ambiguous, match="--amps-type"):
        search(settings, BEHIND, {}, Facts(function=3, offset=0, kinds={"volts": "uint16"}))
    facts = Facts(function=3, kinds={"volts": "uint16", "amps": "uint32"})
    pair = search(settings, BEHIND, LARGE, facts)
    assert (pair.volts.kind, pair.amps.kind, pair.amps.order) == ("uint16", "uint32", order)


def test_rule_7_volts_and_amps_may_be_of_two_orders() -> None:
    settings = mixed("uint32", "BADC", POINTS)
    facts = Facts(
        function=3,
        kinds={"volts": "uint16", "amps": "uint32"},
        orders={"volts": "ABCD", "amps": "BADC"},
    )
    pair = search(settings, BEHIND, LARGE, facts)
    assert (pair.volts.order, pair.amps.order) == ("ABCD", "BADC")


def test_rule_8_a_way_that_cannot_hold_the_rated_amps_is_none() -> None:
    # Words exchanged: below 65.536 A the low word alone reads the same as both.
    settings = mixed("uint32", "CDAB", POINTS)
    facts = Facts(function=3, offset=0, kinds={"volts": "uint16"})
    ways = {pair.amps.kind for pair in plausible(settings, BEHIND, {"volts": 15.0}, facts)}
    assert "uint16" in ways
    ways = {pair.amps.kind for pair in plausible(settings, BEHIND, LARGE, facts)}
    assert ways == {"uint32"}
    with pytest.raises(NotCommissioned):
        search(settings, BEHIND, LARGE, Facts(function=3, offset=0, kind="uint16"))


def test_rule_6_a_signed_type_that_was_asked_for_stays_signed() -> None:
    settings = device("int16", "ABCD", 0.01, 0, 3, random.Random(4))
    assert search(settings, ADDRESSES, RATED, Facts(function=3)).volts.kind == "uint16"
    pair = search(settings, ADDRESSES, RATED, Facts(function=3, kind="int16"))
    assert (pair.volts.kind, pair.amps.kind) == ("int16", "int16")
