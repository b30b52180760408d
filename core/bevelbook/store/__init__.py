"""The database: opening, schema, writing, history, and the questions asked of it. Only this package writes."""
