"""The breaker sweep as pure numbers: contributions, what to switch off, and what to read next."""
