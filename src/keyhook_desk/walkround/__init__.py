"""The hand-over: tour, walk with the hirer, acknowledgement, recorded tours."""
