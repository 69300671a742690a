"""Published equations that no plan computes with: other laws and methods, to check ours against.

Each function takes a row's inputs as `curecal/data/published.toml` names them, every name ending
in its unit, and returns the value in the unit the source prints.
"""
