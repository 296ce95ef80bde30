"""Every action of the window once: `table` has words and keys, `registry` QActions; menus and buttons follow."""
