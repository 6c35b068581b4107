"""Changes of the schema, in order."""
