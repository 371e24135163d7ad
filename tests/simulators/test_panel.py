"""The simulated supply's front panel: what its meters show, told when it changes."""

from simulators.pace import HandPace
from simulators.panel import Panel
from simulators.rig import Rig
from simulators.scene import load_scene


def test_the_panel_shows_what_the_supply_would_answer_and_repeats_nothing() -> None:
    rig, pace = Rig(load_scene("two-settings")), HandPace()
    told: list[str] = []
    panel = Panel(rig, pace, told.append)
    panel.look()
    panel.look()
    assert told == ["panel: 0.00 V  0.00 A"]
    pace.move_to(30.0)
    panel.look()
    measured = rig.measured()
    assert told[1:] == [f"panel: {measured.volts:.2f} V  {measured.amps:.2f} A"]
    assert told[1].startswith("panel: 6.0")
    assert rig.t_s == 30.0
