"""Reading catalogues, and the editions that are made of them."""
