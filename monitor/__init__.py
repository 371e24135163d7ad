"""Readings in; samples, estimates, alarms, the store and the commands out."""
