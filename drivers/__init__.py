"""The drivers: they talk to a supply over a wire, and can only ask. A poll gives a `Reading`."""
