"""The menus: each is filled by a function that is given the models its entries work on."""
