"""The nights of many academies on many machines: a pool with its queues, the server that fills it, the workers that empty it."""
