"""The table: a view in true millimetres, what lies on it, and the tools."""
