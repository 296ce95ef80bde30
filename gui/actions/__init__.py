"""Every action of the window once: words and keys in `table`, QActions in `registry`, menus and buttons made of them."""
