"""What stands in the middle of the window in place of the table: ways to begin, cards of hides."""
