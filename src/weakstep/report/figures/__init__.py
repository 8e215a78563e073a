"""Every figure of the page as plain data; `svg` and `zoom` draw them."""
