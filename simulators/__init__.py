"""The other end of the wire: a cell, a supply, the protocols it answers. Imports none of ours."""
