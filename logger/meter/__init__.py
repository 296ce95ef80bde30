"""From a port to a read line. Nothing here knows the detector, the visit log or the window.

port -> reader (thread) -> splitter -> lines, which looks through tokens and words with sense. Where the lines do not
say which number is the value, taught reads them by a form that a user has pointed out. identify finds settings and
form of an unknown meter, line_watch shows its lines live, description keeps what is known about it, watch notices
what the meter does in mid-session. `protocol_sim` is the simulated house as one more kind of port.
"""
