"""Windows that open beside the work and ask for something."""
