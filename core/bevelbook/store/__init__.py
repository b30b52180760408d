"""The database: opening, schema, writing, history, and look-ups. Only this package writes."""
