"""The pictures of the report, as SVG text: shape, place and word say everything that colour says."""
