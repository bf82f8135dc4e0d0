"""What stands round the table: rack, head, notices, the strip of steps."""
