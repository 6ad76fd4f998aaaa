"""I/O around the measures: intake, one module per area of measuring, explain, decide, export, backup."""
