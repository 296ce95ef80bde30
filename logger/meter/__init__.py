"""From a port to a read line: open it, stamp the bytes, cut lines, interpret each, recognise states of the meter.

`lines` reads lines that say which number is the value, `line_format_reader` those whose format was learned from the
display. `identification` finds the settings and the form of an unknown meter, `description` keeps them.
"""
