"""The breaker sweep as pure numbers: from readings to what gives how much, what to switch off and what to read next."""
