"""Alarm sounds at the bench, and whether each was really made."""
