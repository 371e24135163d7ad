"""The picture of the house shows each room; those that import each other are known."""

from tests.house.house_picture import PICTURE, ROOT, between, drawn, rooms, together

KNOWN = {
    ("acquiring", "forwarding", "notices", "sounding"),
    ("alarms", "bench", "estimating", "explaining", "store"),
}
"""The store keeps what estimators and alarms make, and they know its `rows`; what runs beside the
recorder looks at its lock."""


def test_every_package_stands_in_the_picture() -> None:
    picture = PICTURE.read_text(encoding="utf-8")
    packages = [room for room in rooms() if not (ROOT / "monitor" / f"{room}.py").exists()]
    missing = [room for room in packages if f">{room}</text>" not in picture]
    assert missing == [], "draw it anew: make house"


def test_no_more_rooms_import_each_other_than_are_known() -> None:
    groups = {group for group in together(rooms()).values() if len(group) > 1}
    for group in groups:
        assert any(set(group) <= set(known) for known in KNOWN), group


def test_what_follows_from_other_imports_is_left_out() -> None:
    graph = {"a": {"b", "c"}, "b": {"c"}, "c": set[str]()}
    groups = together(graph)
    assert between(graph, groups) == {("a",): {("b",)}, ("b",): {("c",)}, ("c",): set()}


def test_rooms_that_import_each_other_share_a_frame() -> None:
    graph = {"drivers": {"tui"}, "tui": {"drivers"}}
    assert together(graph) == dict.fromkeys(graph, ("drivers", "tui"))
    assert "stroke-dasharray" in drawn(graph)
