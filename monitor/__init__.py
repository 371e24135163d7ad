"""Watches a strip: samples, estimates, alarms, the store of runs, and the commands."""
