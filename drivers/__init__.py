"""Bytes on a wire in, a `Reading` out: only these talk to a supply, and they can only ask."""
