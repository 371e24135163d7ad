"""Messages to people who are away from the bench, and whether each was delivered."""
