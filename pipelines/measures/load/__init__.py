"""Load as two things that are never merged: swings (what was done) and effort x minutes (how it was felt)."""
