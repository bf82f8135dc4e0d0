"""What leaves the window: papers, drawings, the projector's picture, a booked cut."""
