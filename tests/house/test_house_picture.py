"""The picture of the house shows each room, and none import each other."""

from tests.house.house_picture import PICTURE, ROOT, between, drawn, rooms, together


def test_every_package_stands_in_the_picture() -> None:
    picture = PICTURE.read_text(encoding="utf-8")
    packages = [room for room in rooms() if not (ROOT / "monitor" / f"{room}.py").exists()]
    missing = [room for room in packages if f">{room}</text>" not in picture]
    assert missing == [], "draw it anew: make house"


def test_no_rooms_import_each_other() -> None:
    assert [group for group in together(rooms()).values() if len(group) > 1] == []


def test_what_follows_from_other_imports_is_left_out() -> None:
    graph = {"a": {"b", "c"}, "b": {"c"}, "c": set[str]()}
    groups = together(graph)
    assert between(graph, groups) == {("a",): {("b",)}, ("b",): {("c",)}, ("c",): set()}


def test_rooms_that_import_each_other_share_a_frame() -> None:
    graph = {"drivers": {"tui"}, "tui": {"drivers"}}
    assert together(graph) == dict.fromkeys(graph, ("drivers", "tui"))
    assert "stroke-dasharray" in drawn(graph)
