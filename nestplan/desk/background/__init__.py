"""Long work off the window's thread: the search for a plan, the checks after each change."""
