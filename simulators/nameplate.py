"""A rig and a serial number in, how the supply names itself out."""

from simulators.rig import Rig

IDENTITY = "BATHVIGIL SIM,DC-{volts:g}-{amps:g},SIM{serial:04d},1.0"


def identity(rig: Rig, serial: int) -> str:
    """The four fields that a supply of ours answers to *IDN?; no brand, and none of anybody's."""
    plate = rig.scene.supply
    return IDENTITY.format(volts=plate.volts_max, amps=plate.amps_max, serial=serial)
