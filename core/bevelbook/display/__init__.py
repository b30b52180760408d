"""Values and tables as people read them: figures with their unit, never more digits than were measured."""
