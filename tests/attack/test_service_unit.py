"""The shipped unit keeps a recorder that was taken over from doing more; systemd.exec(5)."""

from pathlib import Path

UNIT = Path(__file__).parents[2] / "packaging" / "bathvigil.service"


def test_the_unit_shuts_what_the_recorder_does_not_need_and_leaves_it_the_serial_ports() -> None:
    lines = UNIT.read_text(encoding="utf-8").splitlines()
    settings = dict(line.split("=", 1) for line in lines if "=" in line and line[0] != "#")
    for name in ("NoNewPrivileges", "PrivateTmp", "RestrictSUIDSGID", "LockPersonality"):
        assert settings[name] == "yes"
    assert settings["ProtectSystem"] == "full"
    # Any of these would take the serial ports away, or the store in the home folder.
    for name in ("PrivateDevices", "DevicePolicy", "DeviceAllow", "ProtectHome", "PrivateNetwork"):
        assert name not in settings
