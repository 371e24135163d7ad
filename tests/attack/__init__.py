"""Attacks on the watch: what somebody or something around it could do to silence or mislead it."""
