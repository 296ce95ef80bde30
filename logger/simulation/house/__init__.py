"""The simulated house: a body near live wiring, read by a meter. Pure and seeded; knows no port and no visit log."""
