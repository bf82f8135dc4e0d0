"""nestplan: where to cut panels, straps and lace from irregular hides.

The folders are the jobs: geometry, model, yields, nesting, intake, estimate, sheets, desk.
"""

__version__ = "0.1.0"
