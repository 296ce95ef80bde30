"""What tests and benches share: generators of traces, scorers, drivers of the window, fixtures."""
