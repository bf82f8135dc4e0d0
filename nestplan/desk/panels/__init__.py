"""The side panel of each step."""
