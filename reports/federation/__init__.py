"""The federation's own site: what academies shared, brought together; made from sums over groups, never from players."""
