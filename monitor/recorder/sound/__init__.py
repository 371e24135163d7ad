"""A priority in, a sound at the bench out; and the truth about whether there was one."""
