"""The page for phones and tablets: one read-only page that a small server makes of the store."""
