"""From a port to a read line. Nothing here knows the detector, the visit log or the window.

port -> reader (thread) -> splitter -> lines, which looks through tokens and words with sense. `protocol_sim` is the
simulated house as one more kind of port.
"""
