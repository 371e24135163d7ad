"""The job around a run: what is stripped, where and by whom, and how it turned out."""
