"""What each step lets one do on the table."""
