"""Fields and buttons that panels and dialogs are made of."""
