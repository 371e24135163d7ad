"""What volts and amps say of a supply's output, and which of its states they contradict."""

from drivers.reading import Mode

# The bath's own polarisation keeps up to 2.5 V at a dead output (common practice, no source).
DEAD_VOLTS = 3.0
DEAD_AMPS = 0.1
DEAD_SHARE = 0.02


def is_flowing(amps: float | None, rated_amps: float | None) -> bool:
    """True where current flows, and not only a meter's error at rest.

    Examples
    --------
    >>> is_flowing(0.05, rated_amps=10.0), is_flowing(0.3, rated_amps=10.0)
    (False, True)
    """
    least_amps = DEAD_AMPS if rated_amps is None else DEAD_SHARE * rated_amps
    return amps is not None and amps >= least_amps


def is_dead(volts: float | None, amps: float | None, rated_amps: float | None) -> bool:
    """True where the output gives nothing, as after a cut-out.

    Examples
    --------
    >>> is_dead(1.9, 0.004, rated_amps=10.0), is_dead(11.8, 0.0, rated_amps=10.0)
    (True, False)
    """
    if volts is None or amps is None:
        return False
    return volts < DEAD_VOLTS and not is_flowing(amps, rated_amps)


def believed(mode: Mode, volts: float | None, amps: float | None, rated_amps: float | None) -> Mode:
    """The state, or `Mode.UNKNOWN` where volts and amps contradict what the supply says.

    An output that is off gives no current; one that has cut out is dead; one that is regulated is
    not. Off is not asked to be without volts: they fade slowly where nothing is connected.

    Examples
    --------
    >>> believed(Mode.OUTPUT_OFF, 9.1, 8.4, rated_amps=10.0).word
    'unknown'
    >>> believed(Mode.OUTPUT_OFF, 4.0, 0.0, rated_amps=10.0).word
    'output-off'
    """
    match mode:
        case Mode.OUTPUT_OFF if is_flowing(amps, rated_amps):
            return Mode.UNKNOWN
        case Mode.CUT_OUT if not is_dead(volts, amps, rated_amps):
            return Mode.UNKNOWN
        case Mode.CONSTANT_CURRENT | Mode.CONSTANT_VOLTAGE if is_dead(volts, amps, rated_amps):
            return Mode.UNKNOWN
    return mode
