"""Transfer: how much of a gain of club speed reaches ball and carry, and where the rest goes."""

from pipelines.measures.transfer.decomposition import PARTS, Delivery, Transfer, transfers
from pipelines.measures.transfer.distance import DistancePerSpeed, distances_per_speed

__all__ = [
    "PARTS",
    "Delivery",
    "DistancePerSpeed",
    "Transfer",
    "distances_per_speed",
    "transfers",
]
