"""A folder of visits that is searched, without reading their samples and without changing them."""
