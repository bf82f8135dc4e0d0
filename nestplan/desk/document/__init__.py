"""What is open in the window: hides, job and plan, their files, and every change to them as an undo step."""
