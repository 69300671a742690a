"""Pictures of a floor: one model each of its timeline and its section, drawn as SVG or as text."""
