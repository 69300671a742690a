"""TOML files as people write them: source, schema of keys, values, atomic writes."""
