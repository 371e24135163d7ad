"""The parts of a screen; each a pure function of the moment and the room it has."""
