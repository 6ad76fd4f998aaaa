"""One module per area: read core frames, call pure measures, write derived tables."""
