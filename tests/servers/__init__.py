"""Servers for the tests of forwarding, on loopback: a scripted one, and the real ones."""
